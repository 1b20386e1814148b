import { lineStringZ } from './geopackageGeometry.ts';
import { jsonColumn } from './jsonColumn.ts';
import type { FlightRecord, Provenance } from './records.ts';
import type { ReadRow, Row } from './tableRows.ts';

export const flightRow = (flight: FlightRecord): Row => ({
  geom: lineStringZ(flight.trackLlh),
  flight: flight.name,
  start_utc: flight.startUtc,
  end_utc: flight.endUtc,
  rig: flight.rigId,
  weather: flight.conditions.weather,
  temperature_c: flight.conditions.temperatureC,
  pressure_hpa: flight.conditions.pressureHPa,
  relative_humidity_pct: flight.conditions.relativeHumidityPct,
  mains_hz: flight.conditions.mainsHz,
  conditions: jsonColumn(flight.conditions),
  uv_frames: flight.uvFrames,
  colour_frames: flight.colourFrames,
  photon_events: flight.photonEvents,
  left_out: jsonColumn(flight.leftOut),
  false_alarms_per_hour_asked: flight.falseAlarmsPerHourAsked,
  quality: jsonColumn(flight.quality),
  track_points: flight.trackLlh.length,
});

export const flightOf = (row: ReadRow, provenance: Provenance): FlightRecord => ({
  name: row.text('flight'),
  startUtc: row.text('start_utc'),
  endUtc: row.text('end_utc'),
  rigId: row.text('rig'),
  conditions: row.json('conditions'),
  uvFrames: row.number('uv_frames'),
  colourFrames: row.number('colour_frames'),
  photonEvents: row.number('photon_events'),
  leftOut: row.json('left_out'),
  // A track of one position is stored as a line of two equal ends.
  trackLlh: row.positions().slice(0, row.number('track_points')),
  falseAlarmsPerHourAsked: row.number('false_alarms_per_hour_asked'),
  quality: row.json('quality'),
  provenance,
});

/** @param resultHash of the whole result, so that the same result saved again changes nothing */
export const provenanceRow = (flight: string, provenance: Provenance, resultHash: string): Row => ({
  flight,
  software: provenance.software,
  registration_hash: provenance.registrationHash,
  rig_hash: provenance.rigHash,
  line_hash: provenance.lineHash,
  flight_hash: provenance.flightHash,
  parameters_hash: provenance.parametersHash,
  result_hash: resultHash,
});

export const provenanceOf = (row: ReadRow): Provenance => ({
  software: row.text('software'),
  registrationHash: row.text('registration_hash'),
  rigHash: row.text('rig_hash'),
  lineHash: row.text('line_hash'),
  flightHash: row.text('flight_hash'),
  parametersHash: row.text('parameters_hash'),
});
