import type { CampaignStore } from '../../campaign/CampaignStore.ts';
import type { FlightRecord, SightingRecord } from '../../campaign/records.ts';
import { type LocalFrame, localFrameAt } from '../../earth/LocalFrame.ts';
import type { ComparedCampaign, ComparedFinding, Limit } from '../../grade/change/ComparedFinding.ts';
import type { LineComponent, LineModel } from '../../line/LineModel.ts';
import { congruence, multiply, transpose } from '../../maths/mat3.ts';
import { subtract, unit, type Vec3 } from '../../maths/vec3.ts';

/**
 * A campaign as the comparison sees it, its places and covariances brought into `frame`.
 * @throws Error where a finding names a discharge that the store does not hold
 */
export function comparedCampaign(store: CampaignStore, frame: LocalFrame): ComparedCampaign {
  const about = store.about();
  if (about === null) throw new Error('comparedCampaign: a campaign without a line; check it first');
  const own = localFrameAt(about.originLlh);
  const turn = multiply(transpose(frame.ecefFromEnu.rotation), own.ecefFromEnu.rotation);
  const line = store.line();
  const components = new Map(line.components.map((component) => [component.id, component]));
  const discharges = new Map(store.discharges().map((discharge) => [discharge.id, discharge]));
  const flights = new Map(store.flights().map((flight) => [flight.name, flight]));
  const sightings = store.sightings();
  const coverage = new Map(store.coverage().map((row) => [row.componentId, row]));

  const findings = store.findings().map((finding): ComparedFinding => {
    const discharge = discharges.get(finding.id);
    if (discharge === undefined) throw new Error(`comparedCampaign: finding ${finding.id} has no discharge`);
    const component = finding.componentId === null ? null : (components.get(finding.componentId) ?? null);
    const flight = flightOf(finding.id, sightings, flights);
    const reviewed = discharge.attribution.candidates.find((one) => one.componentId === finding.componentId);
    return {
      id: finding.id,
      positionEnuM: frame.enuFromLlh(discharge.positionLlh),
      covarianceEnuM2: congruence(turn, discharge.covarianceEnuM2),
      componentId: finding.componentId,
      componentKind: component?.kind ?? null,
      alongEnu: component === null ? null : alongOf(component, line),
      // A component that a reviewer chose against the measurement is taken at the reviewer's word.
      candidates:
        reviewed === undefined
          ? [{ componentId: finding.componentId, probability: 1 }]
          : discharge.attribution.candidates.map(({ componentId, probability }) => ({ componentId, probability })),
      rate: discharge.rate,
      weather: flight?.conditions.weather ?? 'dry',
      rigHash: flight?.provenance.rigHash ?? '',
      rejected: finding.decision === 'rejected',
    };
  });
  const weathers = new Set([...flights.values()].map(({ conditions }) => conditions.weather));
  return {
    findings,
    limitAt: (componentId): Limit => {
      const row = componentId === null ? undefined : coverage.get(componentId);
      if (row === undefined) return { kind: 'unknown' };
      return row.limitHz === null ? { kind: 'not seen' } : { kind: 'limit', limitHz: row.limitHz };
    },
    keptOut: sightings
      .filter(({ suspicions, dischargeId }) => suspicions.length > 0 && dischargeId === null)
      .map(({ seedLlh, suspicions }) => ({ positionEnuM: frame.enuFromLlh(seedLlh), because: suspicions[0] })),
    weather: weathers.size === 1 ? [...weathers][0] : 'mixed',
  };
}

/** The flight that saw a finding first. */
export function flightOf(
  findingId: string,
  sightings: readonly SightingRecord[],
  flights: ReadonlyMap<string, FlightRecord>,
): FlightRecord | undefined {
  const own = sightings.filter(({ dischargeId }) => dischargeId === findingId);
  const first = own.sort((a, b) => (a.fromUtc < b.fromUtc ? -1 : 1))[0];
  return first === undefined ? undefined : flights.get(first.flight);
}

/** Level direction of the span that a component hangs in; of its own axis where it has one. */
function alongOf(component: LineComponent, line: LineModel): Vec3 | null {
  const feet = component.structureIds.flatMap((id) => line.structures.find((one) => one.id === id)?.footEnuM ?? []);
  const ends =
    component.axisEnuM.length > 2
      ? [component.axisEnuM[0], component.axisEnuM[component.axisEnuM.length - 1]]
      : line.structures.filter(({ id }) => component.structureIds.includes(id)).map(({ footEnuM }) => footEnuM);
  if (ends.length !== 2 || feet.length === 0) return null;
  const level = subtract(ends[1], ends[0]);
  return Math.hypot(level[0], level[1]) > 0 ? unit([level[0], level[1], 0]) : null;
}
