import { projectedFromLlh, utmCodeAt } from '../earth/projected.ts';
import { reasonInEnglish } from '../grade/reasonsInEnglish.ts';
import { accuracyFigures } from './accuracyFigures.ts';
import type { NumberedFinding, ReportContents } from './ReportContents.ts';

export type Cell = string | number | boolean | null;

/** To this many significant digits, as a number. */
const digits = (value: number, count: number): number => Number(value.toPrecision(count));
const decimals = (value: number, count: number): number => Number(value.toFixed(count)) + 0;

/**
 * One finding as flat named values, the same in every table and map layer; units stand at the end of the names.
 * Positions are to the centimetre, accuracies to two digits, rates to three.
 */
export function findingColumns(contents: ReportContents, each: NumberedFinding): Readonly<Record<string, Cell>> {
  const { finding, discharge, component } = each;
  const figures = accuracyFigures(discharge.covarianceEnuM2);
  const [lonDeg, latDeg, heightM] = discharge.positionLlh;
  const code = utmCodeAt(lonDeg, latDeg);
  const [eastingM, northingM] = projectedFromLlh(code, lonDeg, latDeg);
  const seen = contents.sightings
    .filter(({ dischargeId }) => dischargeId === finding.id)
    .sort((a, b) => (a.fromUtc < b.fromUtc ? -1 : 1));
  const flights = [...new Set(seen.map(({ flight }) => flight))];
  const [long, middle, short] = figures.ellipsoid;
  return {
    number: `F${each.number}`,
    finding_id: finding.id,
    priority: finding.grade.priority,
    decision: finding.decision,
    component_id: finding.componentId,
    component_kind: component?.kind ?? null,
    structures: component?.structureIds.join(' ') ?? null,
    circuit: component?.circuit ?? null,
    phase: component?.phase ?? null,
    component_probability: digits(finding.componentProbability, 3),
    lat_deg: decimals(latDeg, 7),
    lon_deg: decimals(lonDeg, 7),
    height_ellipsoidal_m: decimals(heightM, 2),
    datum: 'WGS 84 (EPSG:4979)',
    projected_easting_m: decimals(eastingM, 2),
    projected_northing_m: decimals(northingM, 2),
    projected_system: code,
    horizontal_accuracy95_m: digits(figures.horizontalM, 2),
    vertical_accuracy95_m: digits(figures.verticalM, 2),
    ellipsoid95_long_m: digits(long.lengthM, 2),
    ellipsoid95_long_azimuth_deg: decimals(long.azimuthDeg, 0),
    ellipsoid95_long_elevation_deg: decimals(long.elevationDeg, 0),
    ellipsoid95_middle_m: digits(middle.lengthM, 2),
    ellipsoid95_short_m: digits(short.lengthM, 2),
    held_by_line: discharge.heldByLine,
    rays: discharge.rays,
    passes: discharge.passes,
    nearest_range_m: decimals(discharge.nearestRangeM, 1),
    photon_rate_per_s: digits(discharge.rate.rateHz, 3),
    photon_rate_low95_per_s: digits(discharge.rate.interval.lower, 3),
    photon_rate_high95_per_s: digits(discharge.rate.interval.upper, 3),
    band_from_nm: discharge.rate.bandNm[0],
    band_to_nm: discharge.rate.bandNm[1],
    expectedness: finding.grade.expectedness,
    rule: finding.grade.rule,
    reasoning: finding.grade.reasoning,
    advice: finding.grade.advice,
    comment: finding.comment,
    flights: flights.join(' '),
    change: each.change?.change ?? null,
    earlier_finding_id: each.change?.earlierId ?? null,
    rate_ratio: each.change?.rate ? digits(each.change.rate.ratio, 3) : null,
    rate_ratio_low95: each.change?.rate ? digits(each.change.rate.lower, 3) : null,
    // An end that nothing bounds is left empty.
    rate_ratio_high95: each.change?.rate && each.change.rate.upper < 1e9 ? digits(each.change.rate.upper, 3) : null,
    change_because: each.change ? reasonInEnglish(each.change.because) : null,
    first_seen_utc: seen[0]?.fromUtc ?? null,
    last_seen_utc:
      seen
        .map(({ toUtc }) => toUtc)
        .sort()
        .at(-1) ?? null,
    software: contents.flights.find(({ name }) => flights.includes(name))?.provenance.software ?? null,
  };
}
