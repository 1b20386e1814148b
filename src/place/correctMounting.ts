import { EigenvalueDecomposition, Matrix } from 'ml-matrix';
import { chiSquareQuantile } from '../maths/distributions.ts';
import type { Mat3 } from '../maths/mat3.ts';
import type { Vec3 } from '../maths/vec3.ts';
import type { PlacedOccasion } from './agreement.ts';
import type { CorrectionGrounds, MountingCorrection, MountingShift } from './MountingCorrection.ts';
import { pointingOfRig } from './pointingOfRig.ts';
import { meanRay } from './RayBundle.ts';
import { placesOf, RIG_COUNT, type Rigs, rigsOf, sightingsTogether, weightOfDifferences } from './sightingsTogether.ts';

/** Fewer discharges seen from opposite sides than this leave nothing to hold out. */
const LEAST_OPPOSITE = 4;
/** A correction that chance alone would show more often than once in a hundred flights is none. */
const SIGNIFICANCE = 0.99;
/** Combinations that the discharges know no better than bench and mounting do are left to those. */
const LEAST_INFORMATION = 1;
const FOLDS = 10;
/** Sightings that a correction is estimated from at most, and discharges that are placed together at most. */
const MOST_SIGHTINGS = 150;
const MOST_TOGETHER = 60;

type Group = readonly PlacedOccasion[];

/** A place that follows the correction. */
export interface CorrectedPlace {
  readonly positionEnuM: Vec3;
  readonly covarianceEnuM2: Mat3;
  readonly randomCovarianceEnuM2: Mat3;
  readonly systematicCovarianceEnuM2: Mat3;
}

/** What all differences together say of the rigs. */
export interface RigEstimate {
  readonly rigs: Rigs;
  /** RIG_COUNT a rig: to be added to what was stated. */
  readonly mean: Matrix;
  readonly covariance: Matrix;
  /** Against no correction, over the combinations that the discharges know better than what was stated, and their number. */
  readonly chiSquare: number;
  readonly freedom: number;
}

/**
 * Small corrections to boresight and time offset from discharges seen from opposite sides: such an error moves them apart in opposite
 * directions, where errors of the trajectory do so only by chance. All differences between sightings of one discharge are fitted at once
 * for boresight, lever arm, time offset and lens, their stated covariance being the prior. The correction is adopted only where it is
 * significant against everything else that may be wrong, and where sightings that it had not seen (blocks of discharges neighbouring in
 * time, left out in turn) agree better with it.
 * @param groups the sightings of each discharge
 */
export function correctMounting(groups: readonly Group[]): {
  readonly correction: MountingCorrection;
  /** There where the correction is adopted. */
  readonly estimate: RigEstimate | null;
} {
  const opposite = groups.filter(isSeenFromOppositeSides);
  const left = (
    because: Extract<MountingCorrection, { kind: 'left' }>['because'],
    grounds?: CorrectionGrounds,
  ): ReturnType<typeof correctMounting> => ({
    correction: { kind: 'left', because, oppositeDischarges: opposite.length, ...(grounds ? { grounds } : {}) },
    estimate: null,
  });
  if (opposite.length === 0) return left('one side only');
  if (opposite.length < LEAST_OPPOSITE) return left('too few discharges seen from opposite sides');
  const used = evenly(inOrderOfTime(opposite));
  const rigs = rigsOf(groups.flat());
  const estimate = estimateFrom(used, rigs);
  if (estimate.freedom === 0) return left('the rig is known better than these discharges tell');
  const heldOut = holdOut(used, rigs);
  const grounds: CorrectionGrounds = {
    shifts: shiftsOf(estimate),
    oppositeDischarges: opposite.length,
    chiSquare: estimate.chiSquare,
    freedom: estimate.freedom,
    heldOutRmsBefore: Math.sqrt(heldOut.before / heldOut.freedom),
    heldOutRmsAfter: Math.sqrt(heldOut.after / heldOut.freedom),
  };
  if (estimate.chiSquare < chiSquareQuantile(SIGNIFICANCE, estimate.freedom))
    return left('no more than chance', grounds);
  if (!(heldOut.after < heldOut.before)) return left('held-out sightings agree no better', grounds);
  return { correction: { kind: 'adopted', ...grounds }, estimate };
}

/**
 * The places of all discharges with an adopted correction: solved jointly with it, from the rig as stated, where they are few
 * enough; of a longer campaign in blocks, each with the correction and its covariance from the whole.
 */
export function correctedPlaces(groups: readonly Group[], estimate: RigEstimate): CorrectedPlace[] {
  const { rigs, mean, covariance } = estimate;
  if (groups.length <= MOST_TOGETHER)
    return placedWith(groups, rigs, Matrix.zeros(mean.rows, 1), rigs.root.mmul(rigs.root.transpose()));
  const blocks = Array.from({ length: Math.ceil(groups.length / MOST_TOGETHER) }, (_, i) =>
    groups.slice(MOST_TOGETHER * i, MOST_TOGETHER * (i + 1)),
  );
  return blocks.flatMap((block) => placedWith(block, rigs, mean, covariance));
}

function placedWith(groups: readonly Group[], rigs: Rigs, mean: Matrix, unknownCovariance: Matrix): CorrectedPlace[] {
  const { observed, design, unknown, covariance, scatter } = sightingsTogether(groups, rigs);
  const found = placesOf({
    observed: Matrix.sub(observed, unknown.mmul(mean)),
    design,
    covariance: Matrix.add(covariance, unknown.mmul(unknownCovariance).mmul(unknown.transpose())),
    scatter,
  });
  return groups.map((_, d) => {
    const block = (m: Matrix): Mat3 =>
      [0, 1, 2].flatMap((r) =>
        [0, 1, 2].map((c) => (m.get(3 * d + r, 3 * d + c) + m.get(3 * d + c, 3 * d + r)) / 2),
      ) as unknown as Mat3;
    const whole = block(found.covariance);
    const random = block(found.scatter);
    return {
      positionEnuM: [0, 1, 2].map((c) => found.places.get(3 * d + c, 0)) as unknown as Vec3,
      covarianceEnuM2: whole,
      randomCovarianceEnuM2: random,
      systematicCovarianceEnuM2: whole.map((value, i) => value - random[i]) as unknown as Mat3,
    };
  });
}

/** What the rigs are off by given all differences, by Bayes' rule in units of the prior: u = R z, z of unit variance. */
function estimateFrom(groups: readonly Group[], rigs: Rigs): RigEstimate {
  const together = sightingsTogether(groups, rigs);
  const weight = weightOfDifferences(together);
  const seen = together.unknown.mmul(rigs.root);
  const pull = seen.transpose().mmul(weight);
  const { realEigenvalues, eigenvectorMatrix } = new EigenvalueDecomposition(pull.mmul(seen), {
    assumeSymmetric: true,
  });
  const pulled = eigenvectorMatrix.transpose().mmul(pull.mmul(together.observed));
  let chiSquare = 0;
  let freedom = 0;
  const mean = pulled.clone();
  realEigenvalues.forEach((information, k) => {
    const value = pulled.get(k, 0);
    if (information >= LEAST_INFORMATION) {
      chiSquare += value ** 2 / information;
      freedom++;
    }
    mean.set(k, 0, value / (1 + Math.max(0, information)));
  });
  const basis = rigs.root.mmul(eigenvectorMatrix);
  const spread = Matrix.diag(realEigenvalues.map((information) => 1 / (1 + Math.max(0, information))));
  return { rigs, mean: basis.mmul(mean), covariance: basis.mmul(spread).mmul(basis.transpose()), chiSquare, freedom };
}

/** Chi-square of the differences within blocks of discharges under a correction from all other blocks, and under none. */
function holdOut(groups: readonly Group[], rigs: Rigs): { before: number; after: number; freedom: number } {
  const folds = Math.min(FOLDS, groups.length);
  const foldOf = (i: number): number => Math.floor((i * folds) / groups.length);
  let before = 0;
  let after = 0;
  let freedom = 0;
  for (let fold = 0; fold < folds; fold++) {
    const without = groups.filter((_, i) => foldOf(i) !== fold);
    const { mean } = estimateFrom(without, rigs);
    const out = groups.filter((_, i) => foldOf(i) === fold);
    const held = sightingsTogether(out, rigs);
    const weight = weightOfDifferences(held);
    const misfit = (of: Matrix): number => of.transpose().mmul(weight).mmul(of).get(0, 0);
    before += misfit(held.observed);
    after += misfit(Matrix.sub(held.observed, held.unknown.mmul(mean)));
    freedom += held.design.rows - held.design.columns;
  }
  return { before, after, freedom };
}

function shiftsOf({ rigs, mean, covariance }: RigEstimate): MountingShift[] {
  const stated = rigs.root.mmul(rigs.root.transpose());
  return rigs.keys.map((rigKey, k) => {
    const [from, to] = [RIG_COUNT * k, RIG_COUNT * (k + 1) - 1];
    const pointing = pointingOfRig(rigs.errors[k]);
    const shift = pointing.mmul(mean.subMatrix(from, to, 0, 0)).to1DArray();
    const spread = (of: Matrix): Matrix => pointing.mmul(of.subMatrix(from, to, from, to)).mmul(pointing.transpose());
    const after = spread(covariance);
    const sigma = after.diagonal().map(Math.sqrt);
    const before = spread(stated).diagonal().map(Math.sqrt);
    return {
      rigKey,
      boresightRad: [shift[0], shift[1], shift[2]],
      boresightSigmaRad: [sigma[0], sigma[1], sigma[2]],
      statedBoresightSigmaRad: [before[0], before[1], before[2]],
      timeOffsetS: shift[3],
      timeOffsetSigmaS: sigma[3],
      statedTimeOffsetSigmaS: before[3],
      covariance: after.to1DArray(),
    };
  });
}

/** Two sightings whose views lie more than a right angle apart, seen from above. */
function isSeenFromOppositeSides(group: Group): boolean {
  const views = group.map(({ bundle }) => meanRay(bundle).directionEnu);
  return views.some((a, i) => views.slice(0, i).some((b) => a[0] * b[0] + a[1] * b[1] < 0));
}

const inOrderOfTime = (groups: readonly Group[]): Group[] => {
  const key = (group: Group): { flight: string; tNs: number } =>
    [...group].sort((a, b) => compare(a.flight, b.flight) || a.tNs - b.tNs)[0];
  return [...groups].sort((a, b) => compare(key(a).flight, key(b).flight) || key(a).tNs - key(b).tNs);
};

const compare = (a: string, b: string): number => (a < b ? -1 : a > b ? 1 : 0);

/** All, or every so manieth, so that there are no more sightings than can be solved for at once. */
function evenly(groups: readonly Group[]): readonly Group[] {
  const step = Math.ceil(groups.reduce((sum, group) => sum + group.length, 0) / MOST_SIGHTINGS);
  return groups.filter((_, i) => i % step === 0);
}
