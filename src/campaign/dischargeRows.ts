import { pointZ } from './geopackageGeometry.ts';
import { jsonColumn } from './jsonColumn.ts';
import type { DischargeRecord, Llh, SightingRecord } from './records.ts';
import type { ReadRow, Row } from './tableRows.ts';

/** Columns that discharges and findings share: where, how surely, how strong. */
export function placeAndStrength(discharge: DischargeRecord): Row {
  const [lonDeg, latDeg, heightM] = discharge.positionLlh;
  const covariance = discharge.covarianceEnuM2;
  return {
    geom: pointZ(discharge.positionLlh),
    lon_deg: lonDeg,
    lat_deg: latDeg,
    height_m: heightM,
    sigma_east_m: Math.sqrt(covariance[0]),
    sigma_north_m: Math.sqrt(covariance[4]),
    sigma_up_m: Math.sqrt(covariance[8]),
    photon_rate_hz: discharge.rate.rateHz,
    rate_lower95_hz: discharge.rate.interval.lower,
    rate_upper95_hz: discharge.rate.interval.upper,
  };
}

/** @param asInspected what it was before a reviewer divided it; null where none did */
export const dischargeRow = (
  discharge: DischargeRecord,
  flight: string,
  asInspected: DischargeRecord | null = null,
): Row => ({
  ...placeAndStrength(discharge),
  id: discharge.id,
  flight,
  component: discharge.attribution.candidates[0]?.componentId ?? null,
  component_probability: discharge.attribution.candidates[0]?.probability ?? 0,
  rays: discharge.rays,
  passes: discharge.passes,
  normalised_rms: discharge.normalisedRms,
  nearest_range_m: discharge.nearestRangeM,
  crossing_deg: discharge.crossingDeg,
  held_by_line: Number(discharge.heldByLine),
  position_enu_m: jsonColumn(discharge.positionEnuM),
  covariance_enu_m2: jsonColumn(discharge.covarianceEnuM2),
  systematic_covariance_enu_m2: jsonColumn(discharge.systematicCovarianceEnuM2),
  rate: jsonColumn(discharge.rate),
  attribution: jsonColumn(discharge.attribution),
  as_inspected: asInspected === null ? null : jsonColumn(asInspected),
  as_mounted: discharge.asMounted ? jsonColumn(discharge.asMounted) : null,
});

export const dischargeOf = (row: ReadRow): DischargeRecord => ({
  id: row.text('id'),
  positionLlh: [row.number('lon_deg'), row.number('lat_deg'), row.number('height_m')],
  positionEnuM: row.json('position_enu_m'),
  covarianceEnuM2: row.json('covariance_enu_m2'),
  systematicCovarianceEnuM2: row.json('systematic_covariance_enu_m2'),
  rays: row.number('rays'),
  passes: row.number('passes'),
  normalisedRms: row.number('normalised_rms'),
  nearestRangeM: row.number('nearest_range_m'),
  crossingDeg: row.number('crossing_deg'),
  heldByLine: row.number('held_by_line') !== 0,
  rate: row.json('rate'),
  attribution: row.json('attribution'),
  ...(row.textOrNull('as_mounted') === null ? {} : { asMounted: row.json('as_mounted') }),
});

export const sightingRow = (sighting: SightingRecord): Row => ({
  geom: pointZ(sighting.seedLlh),
  id: sighting.id,
  flight: sighting.flight,
  discharge: sighting.dischargeId,
  from_utc: sighting.fromUtc,
  to_utc: sighting.toUtc,
  frames_in_view: sighting.framesInView,
  events: sighting.events,
  log_likelihood_ratio: sighting.logLikelihoodRatio,
  false_alarms_per_hour: sighting.falseAlarmsPerHour,
  suspicions: jsonColumn(sighting.suspicions),
  note: sighting.note,
});

export const sightingOf = (row: ReadRow): SightingRecord => ({
  id: row.text('id'),
  flight: row.text('flight'),
  dischargeId: row.textOrNull('discharge'),
  fromUtc: row.text('from_utc'),
  toUtc: row.text('to_utc'),
  framesInView: row.number('frames_in_view'),
  events: row.number('events'),
  logLikelihoodRatio: row.number('log_likelihood_ratio'),
  falseAlarmsPerHour: row.number('false_alarms_per_hour'),
  suspicions: row.json('suspicions'),
  seedLlh: row.positions()[0] as Llh,
  note: row.text('note'),
});
