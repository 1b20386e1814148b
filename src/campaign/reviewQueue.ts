import { PRIORITIES } from '../grade/Grade.ts';
import { addMat } from '../maths/mat3.ts';
import { distance, subtract } from '../maths/vec3.ts';
import { errorEllipsoid, squaredMahalanobis } from '../place/errorEllipsoid.ts';
import type { DischargeRecord, FindingRecord } from './records.ts';

/** Why a finding needs a human. */
export const QUEUE_REASONS = [
  'not decided',
  'urgent',
  'component uncertain',
  'place uncertain',
  'perhaps the same as another',
  'seen in one pass only',
  'expectedness is borderline',
] as const;
export type QueueReason = (typeof QUEUE_REASONS)[number];

export interface QueuedFinding {
  readonly id: string;
  readonly reasons: readonly QueueReason[];
  /** What a look at it is worth, relative to the others. */
  readonly value: number;
}

/** Findings whose places differ by less than three sigma of the difference: perhaps one discharge. */
export interface Neighbour {
  readonly id: string;
  readonly distanceM: number;
  readonly sigmas: number;
}

/** Each rung of the priorities is worth twice the next: a judgement, not a measurement. */
const worthOf = ({ grade }: FindingRecord): number => 2 ** (PRIORITIES.length - 1 - PRIORITIES.indexOf(grade.priority));
/** The scale of hardware: an ellipsoid beyond it holds more than one component. */
const PLACE_UNCERTAIN_FROM_M = 0.5;
/** The advice on what would settle a component is given below the same probability. */
const COMPONENT_SURE = 0.95;
/** No two findings farther apart are one discharge, however uncertain they are. */
const NEIGHBOURS_WITHIN_M = 20;

/**
 * What needs a human, most valuable first: findings that nobody has decided on, by how urgent they are times how much a look can
 * settle. Weights are a judgement: a doubtful component counts by its doubt, all else by a quarter to a half.
 */
export function reviewQueue(
  findings: readonly FindingRecord[],
  dischargeBy: ReadonlyMap<string, DischargeRecord>,
): QueuedFinding[] {
  const neighbours = neighboursOf(findings, dischargeBy);
  return findings
    .filter(({ decision, grade }) => decision === 'open' && grade.priority !== 'not a finding')
    .map((finding): QueuedFinding => {
      const discharge = dischargeBy.get(finding.id)!;
      const reasons: QueueReason[] = ['not decided'];
      let doubt = 1;
      const add = (reason: QueueReason, weight: number): void => {
        reasons.push(reason);
        doubt += weight;
      };
      if (finding.grade.priority === 'act now') reasons.push('urgent');
      if (finding.componentProbability < COMPONENT_SURE) add('component uncertain', 1 - finding.componentProbability);
      if (errorEllipsoid(discharge.covarianceEnuM2).halfAxesM[0] > PLACE_UNCERTAIN_FROM_M) add('place uncertain', 0.25);
      if ((neighbours.get(finding.id) ?? []).length > 0) add('perhaps the same as another', 0.5);
      if (discharge.passes < 2) add('seen in one pass only', 0.25);
      if (finding.grade.expectedness === 'borderline') add('expectedness is borderline', 0.5);
      return { id: finding.id, reasons, value: worthOf(finding) * doubt };
    })
    .sort((a, b) => b.value - a.value || (a.id < b.id ? -1 : 1));
}

/** For each finding those it may be the same as, nearest first. */
export function neighboursOf(
  findings: readonly FindingRecord[],
  dischargeBy: ReadonlyMap<string, DischargeRecord>,
): ReadonlyMap<string, readonly Neighbour[]> {
  // By east, so that each is compared with the few that can be near at all.
  const byEast = findings.map(({ id }) => dischargeBy.get(id)!).sort((a, b) => a.positionEnuM[0] - b.positionEnuM[0]);
  const found = new Map<string, Neighbour[]>(findings.map(({ id }) => [id, []]));
  byEast.forEach((one, i) => {
    for (let k = i + 1; k < byEast.length; k++) {
      const other = byEast[k];
      if (other.positionEnuM[0] - one.positionEnuM[0] > NEIGHBOURS_WITHIN_M) break;
      const distanceM = distance(one.positionEnuM, other.positionEnuM);
      if (distanceM > NEIGHBOURS_WITHIN_M) continue;
      const squared = squaredMahalanobis(
        subtract(one.positionEnuM, other.positionEnuM),
        addMat(one.covarianceEnuM2, other.covarianceEnuM2),
      );
      if (squared === null || squared >= 9) continue;
      const sigmas = Math.sqrt(squared);
      found.get(one.id)!.push({ id: other.id, distanceM, sigmas });
      found.get(other.id)!.push({ id: one.id, distanceM, sigmas });
    }
  });
  for (const list of found.values()) list.sort((a, b) => a.distanceM - b.distanceM);
  return found;
}
