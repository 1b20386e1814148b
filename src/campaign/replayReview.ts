import { trace } from '../maths/mat3.ts';
import { distance } from '../maths/vec3.ts';
import type { LoggedAct } from './ReviewCommand.ts';
import type { DischargeRecord, FindingRecord, SightingRecord } from './records.ts';
import { standingActs } from './reviewLog.ts';

/** A finding with its discharge and the sightings of it. */
export interface ReviewedFinding {
  readonly finding: FindingRecord;
  readonly discharge: DischargeRecord;
  readonly sightings: readonly SightingRecord[];
}

/** Makes a discharge of a part of the sightings of one; see `dischargeOfPart`. */
export type DischargeOfPart = (
  whole: ReviewedFinding,
  part: readonly SightingRecord[],
  id: string,
) => { readonly discharge: DischargeRecord; readonly finding: FindingRecord };

/**
 * Findings as they stand after review: what the inspection said, with every act of the log that was not taken back laid over it
 * in order. Nothing else is state: taking an act back is to replay without it. An act about a finding that is no longer at the place
 * where it was said (3 sigma) is passed over, as is one about sightings that are no longer there.
 */
export function replayReview(
  asInspected: readonly ReviewedFinding[],
  log: readonly LoggedAct[],
  dischargeOfPart: DischargeOfPart,
): ReviewedFinding[] {
  const state = new Map(asInspected.map((one) => [one.finding.id, one]));
  const standing = standingActs(log);
  for (const line of log) {
    const before = state.get(line.findingId);
    if (!standing.has(line.act) || before === undefined || !isAt(before.discharge, line.positionEnuM)) continue;
    if (line.what === 'merge') {
      for (const other of line.others) {
        const merged = state.get(other.id);
        if (other.kind === 'merged' && merged && isAt(merged.discharge, other.positionEnuM))
          state.set(other.id, { ...merged, finding: { ...merged.finding, mergedInto: line.findingId } });
      }
    } else if (line.what === 'split') split(state, before, line, dischargeOfPart);
    else state.set(line.findingId, { ...before, finding: withWord(before, line) });
  }
  return [...state.values()];
}

/**
 * Another component keeps the probability that the measurement gives it (0 where it was no candidate): a decision is not a
 * measurement. A decision given without a word keeps the comment that stands.
 */
function withWord({ finding, discharge }: ReviewedFinding, { what, value }: LoggedAct): FindingRecord {
  if (what === 'component') {
    const componentId = value === '' ? null : value;
    const candidate = discharge.attribution.candidates.find((one) => one.componentId === componentId);
    return { ...finding, componentId, componentProbability: candidate?.probability ?? 0 };
  }
  if (what !== 'confirmed' && what !== 'rejected' && what !== 'reopened' && what !== 'comment') return finding;
  const decision = what === 'comment' ? finding.decision : what === 'reopened' ? 'open' : what;
  return { ...finding, decision, comment: value === '' ? finding.comment : value };
}

function split(
  state: Map<string, ReviewedFinding>,
  whole: ReviewedFinding,
  line: LoggedAct,
  dischargeOfPart: DischargeOfPart,
): void {
  const named = new Map(line.others.flatMap((one) => (one.kind === 'sighting' ? [[one.id, one.fromUtc]] : [])));
  const taken = whole.sightings.filter(({ id, fromUtc }) => named.get(id) === fromUtc);
  const rest = whole.sightings.filter((one) => !taken.includes(one));
  const id = line.others.find(({ kind }) => kind === 'split off')?.id;
  if (taken.length === 0 || rest.length === 0 || id === undefined) return;
  const { finding } = whole;
  const off = dischargeOfPart(whole, taken, id);
  const left = dischargeOfPart(whole, rest, finding.id);
  state.set(finding.id, {
    finding: { ...left.finding, decision: finding.decision, comment: finding.comment },
    discharge: left.discharge,
    sightings: rest,
  });
  state.set(id, {
    finding: { ...off.finding, decision: 'open', comment: '', splitFrom: finding.id },
    discharge: off.discharge,
    sightings: taken,
  });
}

/**
 * Whether a word was about this discharge: within 3 sigma of the difference of two positions as uncertain as this one. A new
 * inspection may number its discharges otherwise, and a decision must never move to another place.
 */
function isAt(discharge: DischargeRecord, placeEnuM: readonly [number, number, number]): boolean {
  return distance(discharge.positionEnuM, placeEnuM) ** 2 <= 9 * 2 * trace(discharge.covarianceEnuM2);
}
