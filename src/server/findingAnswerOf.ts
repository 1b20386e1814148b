import type { DischargeRecord, FindingRecord, SightingRecord } from '../campaign/records.ts';
import { errorEllipsoid } from '../place/errorEllipsoid.ts';
import type { FindingAnswer, FindingRow } from './api/findings.ts';
import type { CampaignView } from './CampaignView.ts';

/** Every finding as a row of the table. */
export function findingRowsOf(view: CampaignView): readonly FindingRow[] {
  return view.once('finding rows', () => view.findings.map((finding) => rowOf(view, finding)));
}

/** Those that were made part of another. */
export function mergedRowsOf(view: CampaignView): readonly FindingRow[] {
  return view.once('merged rows', () => view.mergedFindings.map((finding) => rowOf(view, finding)));
}

/** Sightings by the finding that they belong to after review. */
export function sightingsByFinding(view: CampaignView): ReadonlyMap<string, readonly SightingRecord[]> {
  return view.once('sightings by finding', () => {
    const by = new Map<string, SightingRecord[]>();
    for (const sighting of view.placedSightings) {
      const id = view.findingOf(sighting.dischargeId);
      if (id === null) continue;
      const list = by.get(id);
      if (list) list.push(sighting);
      else by.set(id, [sighting]);
    }
    return by;
  });
}

function rowOf(view: CampaignView, finding: FindingRecord): FindingRow {
  const discharge = dischargeOf(view, finding.id);
  const sightings = sightingsByFinding(view).get(finding.id) ?? [];
  const component = finding.componentId === null ? undefined : view.componentById.get(finding.componentId);
  const ellipsoid = errorEllipsoid(discharge.covarianceEnuM2);
  const place = view.along?.(discharge.positionEnuM) ?? null;
  const c = discharge.covarianceEnuM2;
  const queued = view.queue.get(finding.id);
  return {
    id: finding.id,
    number: view.findingNumbers.get(finding.id)!,
    revision: view.findingRevisions.get(finding.id) ?? view.revision,
    flight: view.flightOfFinding.get(finding.id) ?? '',
    decision: finding.decision,
    comment: finding.comment,
    priority: finding.grade.priority,
    rule: finding.grade.rule,
    expectedness: finding.grade.expectedness,
    componentId: finding.componentId,
    componentKind: component?.kind ?? null,
    structureIds: [...(component?.structureIds ?? [])],
    circuit: component?.circuit ?? null,
    phase: component?.phase ?? null,
    componentProbability: finding.componentProbability,
    positionLlh: [...discharge.positionLlh] as [number, number, number],
    positionEnuM: [...discharge.positionEnuM] as [number, number, number],
    alongM: place?.alongM ?? null,
    acrossM: place?.acrossM ?? null,
    sigmaEnuM: [Math.sqrt(c[0]), Math.sqrt(c[4]), Math.sqrt(c[8])],
    halfAxes95M: [...ellipsoid.halfAxesM],
    horizontal95: { ...ellipsoid.horizontal },
    vertical95M: ellipsoid.verticalM,
    heldByLine: discharge.heldByLine,
    rateHz: discharge.rate.rateHz,
    rateInterval: { ...discharge.rate.interval },
    rays: discharge.rays,
    passes: discharge.passes,
    sightings: sightings.length,
    nearestRangeM: discharge.nearestRangeM,
    firstSeenUtc: least(sightings.map(({ fromUtc }) => fromUtc)),
    lastSeenUtc: most(sightings.map(({ toUtc }) => toUtc)),
    evidence: view.evidenceCounts.get(finding.id) ?? 0,
    mergedInto: finding.mergedInto ?? null,
    splitFrom: finding.splitFrom ?? null,
    queuePlace: queued === undefined ? null : queued.place,
    queueReasons: [...(queued?.reasons ?? [])],
  };
}

function asMountedAnswer({ asMounted }: DischargeRecord): FindingAnswer['asMounted'] {
  if (!asMounted) return null;
  const [lon, lat, height] = asMounted.positionLlh;
  const [east, north, up] = asMounted.positionEnuM;
  return {
    positionLlh: [lon, lat, height],
    positionEnuM: [east, north, up],
    covarianceEnuM2: [...asMounted.covarianceEnuM2],
  };
}

/** @param parts what is not in the view: pictures and rays */
export function findingAnswerOf(
  view: CampaignView,
  id: string,
  parts: Pick<FindingAnswer, 'sightingList' | 'evidenceList' | 'log' | 'last'>,
): FindingAnswer | null {
  const row = [...findingRowsOf(view), ...mergedRowsOf(view)].find((one) => one.id === id);
  const finding = [...view.findings, ...view.mergedFindings].find((one) => one.id === id);
  if (row === undefined || finding === undefined) return null;
  const discharge = dischargeOf(view, id);
  const { rate, attribution } = discharge;
  const ellipsoid = errorEllipsoid(discharge.covarianceEnuM2);
  return {
    ...row,
    covarianceEnuM2: [...discharge.covarianceEnuM2],
    systematicCovarianceEnuM2: [...discharge.systematicCovarianceEnuM2],
    ellipsoidAxesEnu: ellipsoid.axesEnu.map((axis) => [...axis]) as FindingAnswer['ellipsoidAxesEnu'],
    asMounted: asMountedAnswer(discharge),
    normalisedRms: discharge.normalisedRms,
    crossingDeg: discharge.crossingDeg,
    candidates: attribution.candidates.map((one) => ({
      ...one,
      componentKind: one.componentId === null ? null : (view.componentById.get(one.componentId)?.kind ?? null),
    })),
    restProbability: attribution.restProbability,
    attributionAdvice: attribution.advice,
    advice: finding.grade.advice,
    reasoning: finding.grade.reasoning,
    reasons: finding.grade.reasons?.map(({ key, values }) => ({ key, values: { ...values } })),
    rate: {
      ...rate,
      countingInterval: { ...rate.countingInterval },
      interval: { ...rate.interval },
      bandNm: [...rate.bandNm],
      budget: rate.budget.map((one) => ({ ...one })),
      notes: [...rate.notes],
    },
    ...parts,
    mergedFindingIds: view.mergedFindings.filter(({ mergedInto }) => mergedInto === id).map((one) => one.id),
    nearby: [...(view.neighbours.get(id) ?? [])],
  };
}

export function dischargeOf(view: CampaignView, id: string): DischargeRecord {
  const discharge = view.discharges.get(id);
  if (discharge === undefined)
    throw new Error(`finding ${id} has no discharge: the campaign was altered by another program`);
  return discharge;
}

const least = (texts: readonly string[]): string | null => [...texts].sort()[0] ?? null;
const most = (texts: readonly string[]): string | null => [...texts].sort().at(-1) ?? null;
