import { jsonColumn } from './jsonColumn.ts';
import type { InspectionSettings, SightingRays } from './records.ts';
import type { ReadRow, Row } from './tableRows.ts';

export function* rayRows(sighting: string, flight: string, rays: SightingRays): Generator<Row> {
  for (let i = 0; i < rays.event.length; i++)
    yield {
      sighting,
      flight,
      event: rays.event[i],
      frame: rays.frame[i],
      t_ns: rays.tNs[i],
      x_px: rays.xPx[i],
      y_px: rays.yPx[i],
      membership: rays.membership[i],
    };
}

export const raysOfRows = (rows: readonly ReadRow[]): SightingRays => ({
  event: rows.map((row) => row.number('event')),
  frame: rows.map((row) => row.number('frame')),
  tNs: rows.map((row) => row.number('t_ns')),
  xPx: rows.map((row) => row.number('x_px')),
  yPx: rows.map((row) => row.number('y_px')),
  membership: rows.map((row) => row.number('membership')),
});

export const settingsRow = (flight: string, settings: InspectionSettings): Row => ({
  flight,
  events_file: settings.eventsFile,
  events_sha256: settings.eventsHash,
  parameters: jsonColumn(settings.parameters),
  rules: jsonColumn(settings.rules),
  registration: jsonColumn(settings.registration),
  mounting: jsonColumn(settings.mounting),
});

export const settingsOf = (row: ReadRow): InspectionSettings => ({
  eventsFile: row.text('events_file'),
  eventsHash: row.text('events_sha256'),
  parameters: row.json('parameters'),
  rules: row.json('rules'),
  registration: row.json('registration'),
  mounting: row.json('mounting'),
});
