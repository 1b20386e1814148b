import { packedJson, unpackedJson } from './packedJson.ts';
import type { FlightPlacing } from './records.ts';
import type { ReadRow, Row } from './tableRows.ts';

export const flightPlacingRow = (placing: FlightPlacing): Row => ({
  flight: placing.flight,
  start_utc: placing.startUtc,
  material: packedJson(placing),
});

export const flightPlacingOf = (row: ReadRow): FlightPlacing => unpackedJson(row.text('material'));
