import type { CampaignStore } from '../campaign/CampaignStore.ts';
import type {
  ChangeRecord,
  ComparisonRecord,
  CoverageRecord,
  DischargeRecord,
  FindingRecord,
  FlightRecord,
  Llh,
  ReviewEntry,
  SightingRecord,
} from '../campaign/records.ts';
import { PRIORITIES } from '../grade/Grade.ts';
import type { LineComponent, LineModel } from '../line/LineModel.ts';

/** A finding with its discharge and the number it keeps in reports, tables and desk. */
export interface NumberedFinding {
  readonly number: number;
  readonly finding: FindingRecord;
  readonly discharge: DischargeRecord;
  readonly component: LineComponent | null;
  /** What became of it since an earlier campaign; missing where none was compared with. */
  readonly change?: ChangeRecord;
}

/** All of a campaign that a report speaks of, except the pictures, which are taken one finding at a time. */
export interface ReportContents {
  readonly name: string;
  readonly originLlh: Llh;
  readonly line: LineModel;
  readonly flights: readonly FlightRecord[];
  readonly sightings: readonly SightingRecord[];
  readonly coverage: readonly CoverageRecord[];
  readonly reviewLog: readonly ReviewEntry[];
  readonly comparison: ComparisonRecord | null;
  readonly changes: readonly ChangeRecord[];
  /** Most urgent first, then in the order of the line. */
  readonly findings: readonly NumberedFinding[];
  /** Rejected by a reviewer: listed, not counted. */
  readonly rejected: readonly NumberedFinding[];
}

/**
 * Reads and orders what the report needs.
 * @throws Error where a finding names a discharge that the store does not hold: such a store is broken
 */
export function reportContents(store: CampaignStore): ReportContents | null {
  const about = store.about();
  if (about === null) return null;
  const line = store.line();
  const components = new Map(line.components.map((component) => [component.id, component]));
  const discharges = new Map(store.discharges().map((discharge) => [discharge.id, discharge]));
  const structureOrder = new Map(line.structures.map(({ id }, k) => [id, k]));
  const placeInLine = (component: LineComponent | null) =>
    Math.min(Infinity, ...(component?.structureIds ?? []).map((id) => structureOrder.get(id) ?? Infinity));

  const changes = store.changes();
  const changeOf = new Map(changes.flatMap((one) => (one.laterId === null ? [] : [[one.laterId, one] as const])));

  const all = store.findings().map((finding) => {
    const discharge = discharges.get(finding.id);
    if (discharge === undefined)
      throw new Error(`reportContents: finding ${finding.id} has no discharge of the same id in the campaign`);
    const component = finding.componentId === null ? null : (components.get(finding.componentId) ?? null);
    const change = changeOf.get(finding.id);
    return { finding, discharge, component, ...(change ? { change } : {}) };
  });
  all.sort(
    (a, b) =>
      Number(a.finding.decision === 'rejected') - Number(b.finding.decision === 'rejected') ||
      PRIORITIES.indexOf(a.finding.grade.priority) - PRIORITIES.indexOf(b.finding.grade.priority) ||
      compare(placeInLine(a.component), placeInLine(b.component)) ||
      (a.finding.id < b.finding.id ? -1 : 1),
  );
  const numbers = store.findingNumbers();
  const numbered = all.map((each): NumberedFinding => ({ number: numbers.get(each.finding.id)!, ...each }));
  return {
    name: about.name,
    originLlh: about.originLlh,
    line,
    flights: [...store.flights()].sort((a, b) => (a.startUtc < b.startUtc ? -1 : 1)),
    sightings: store.sightings(),
    coverage: store.coverage(),
    reviewLog: store.reviewLog(),
    comparison: store.comparison(),
    changes,
    findings: numbered.filter(({ finding }) => finding.decision !== 'rejected'),
    rejected: numbered.filter(({ finding }) => finding.decision === 'rejected'),
  };
}

/** Infinity minus infinity is not a number, and would upset the sort. */
const compare = (a: number, b: number) => (a === b ? 0 : a < b ? -1 : 1);
