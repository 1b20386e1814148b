import type { InspectionResult } from '../../campaign/CampaignStore.ts';
import type { DischargeRecord, FindingRecord, FlightPlacing } from '../../campaign/records.ts';
import type { LocalFrame } from '../../earth/LocalFrame.ts';
import { meanPhotonRate } from '../../grade/meanPhotonRate.ts';
import type { RuleTable } from '../../grade/RuleTable.ts';
import type { LineModel } from '../../line/LineModel.ts';
import { attribute } from '../../place/attribute.ts';
import type { Discharge } from '../../place/Discharge.ts';
import { gatherDischarges } from '../../place/gatherDischarges.ts';
import type { MountingCorrection } from '../../place/MountingCorrection.ts';
import type { PlacingOptions } from '../../place/placeSighting.ts';
import { asMountedOf } from './asMountedOf.ts';
import { findingRecord } from './findingRecord.ts';

type Own = FlightPlacing['own'][number];

/**
 * Places the sightings of several flights together: each flight with trajectory errors of its own, rig errors in common where
 * registration and mounting are the same. A discharge that one flight saw alone keeps what its flight said of it; one of several
 * flights gets a position from all of its rays, the mean rate, and a grade under the conditions of the flight that saw it first.
 * Flights are taken in the order of their start, so that the result does not depend on the order of inspections. A discharge is
 * called as the first of its flights called it.
 */
export function joinFlights(
  placings: readonly FlightPlacing[],
  campaign: { readonly line: LineModel; readonly rules: RuleTable; readonly frame: LocalFrame },
  options: PlacingOptions,
): Pick<InspectionResult, 'discharges' | 'findings'> &
  Required<Pick<InspectionResult, 'joint'>> & { readonly correction: MountingCorrection } {
  const flights = [...placings].sort((a, b) => compare(a.startUtc, b.startUtc) || compare(a.flight, b.flight));
  const { discharges: gathered, correction } = gatherDischarges(
    flights.flatMap((flight) => flight.sightings),
    options,
  );
  const ownOf = new Map<string, { own: Own; flight: FlightPlacing }>();
  for (const flight of flights)
    for (const own of flight.own) for (const id of own.sightingIds) ownOf.set(id, { own, flight });

  const discharges: DischargeRecord[] = [];
  const findings: FindingRecord[] = [];
  const homeOf: Record<string, string> = {};
  const dischargeOf: Record<string, string | null> = {};
  const renamed: Record<string, string> = {};
  for (const flight of flights) for (const { sighting } of flight.sightings) dischargeOf[sighting.id] = null;
  for (const discharge of gathered) {
    const members = [...new Set(discharge.sightingIds.flatMap((id) => ownOf.get(id) ?? []))];
    const own = [...new Map(members.map((member) => [member.own.record.id, member])).values()];
    const [first] = own;
    // None of its sightings had a place clear of the border in its own flight: there is no rate, and no finding.
    if (first === undefined) continue;
    const id = freeName(first.own.record.id, homeOf);
    const record = alone(discharge, first.own)
      ? { ...first.own.record, id }
      : placedTogether(id, discharge, own, campaign);
    discharges.push(record);
    findings.push(
      alone(discharge, first.own)
        ? { ...first.own.finding, id }
        : findingRecord(record, campaign, first.flight.conditions),
    );
    homeOf[id] = first.flight.flight;
    for (const sighting of discharge.sightingIds) dischargeOf[sighting] = id;
    for (const member of own) renamed[member.own.record.id] ??= id;
  }
  return {
    discharges,
    findings,
    correction,
    joint: { flights: flights.map((f) => f.flight), homeOf, dischargeOf, renamed },
  };
}

const compare = (a: string, b: string): number => (a < b ? -1 : a > b ? 1 : 0);

/** Whether the discharge is of the very sightings that its flight by itself made one of, with the same mounting. */
const alone = (discharge: Discharge, own: Own): boolean =>
  discharge.asMounted === undefined &&
  own.record.asMounted === undefined &&
  discharge.sightingIds.length === own.sightingIds.length &&
  discharge.sightingIds.every((id) => own.sightingIds.includes(id));

/** Two discharges may begin with the same one of a flight, where another flight tells apart what it took for one. */
function freeName(id: string, taken: Readonly<Record<string, string>>): string {
  if (!(id in taken)) return id;
  let n = 2;
  while (`${id}-${n}` in taken) n++;
  return `${id}-${n}`;
}

function placedTogether(
  id: string,
  discharge: Discharge,
  own: readonly { readonly own: Own }[],
  { line, frame }: { readonly line: LineModel; readonly frame: LocalFrame },
): DischargeRecord {
  const { placement, passes } = discharge;
  return {
    id,
    positionLlh: frame.llhFromEnu(placement.positionEnuM),
    positionEnuM: placement.positionEnuM,
    covarianceEnuM2: placement.covarianceEnuM2,
    systematicCovarianceEnuM2: placement.systematicCovarianceEnuM2,
    rays: placement.rays,
    passes,
    normalisedRms: placement.normalisedRms,
    nearestRangeM: placement.nearestRangeM,
    crossingDeg: placement.crossingDeg,
    heldByLine: placement.heldByLine,
    rate: meanPhotonRate(own.map((member) => member.own.record.rate)),
    attribution: attribute(placement, line),
    ...asMountedOf(discharge, frame),
  };
}
