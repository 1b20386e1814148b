import { CholeskyDecomposition, Matrix } from 'ml-matrix';
import { invert, multiplyVec } from '../maths/mat3.ts';
import type { Occasion } from './passCorrelation.ts';
import { passCorrelation } from './passCorrelation.ts';
import { mat3Of, type PlacedBundle, pointOf } from './placeSighting.ts';
import { PASS_COUNT, SYSTEMATIC_COUNT } from './SystematicErrors.ts';

/** A placed sighting with the occasion that its errors belong to. */
export interface PlacedOccasion extends Occasion, PlacedBundle {}

/**
 * Chi-square of several placed sightings against one common point, 3 (n - 1) degrees of freedom where they are of one
 * source. What they share (the rig's errors, and the trajectory's by their distance in time) cancels, so that two sources
 * seen at once are told apart to the accuracy of the rays, however uncertain their common shift.
 */
export function disagreement(sightings: readonly PlacedOccasion[]): number {
  const n = sightings.length;
  if (n < 2) return 0;
  const covariance = Matrix.zeros(3 * n, 3 * n);
  const observed = new Matrix(3 * n, 1);
  for (let i = 0; i < n; i++) {
    const a = freeOf(sightings[i]);
    for (let c = 0; c < 3; c++) observed.set(3 * i + c, 0, a.positionEnuM[c]);
    for (let j = 0; j <= i; j++) {
      const block = sharedCovariance(sightings[i], sightings[j], i === j);
      for (let r = 0; r < 3; r++)
        for (let c = 0; c < 3; c++) {
          const { lightEffectM } = sightings[i];
          const own = a.randomCovarianceEnuM2[3 * r + c] + lightEffectM[r] * lightEffectM[c];
          const value = block[3 * r + c] + (i === j ? own : 0);
          covariance.set(3 * i + r, 3 * j + c, value);
          covariance.set(3 * j + c, 3 * i + r, value);
        }
    }
  }
  const cholesky = new CholeskyDecomposition(covariance);
  if (!cholesky.isPositiveDefinite()) throw new RangeError('disagreement: a placement has no random error of its own');
  const design = new Matrix(3 * n, 3);
  for (let i = 0; i < n; i++) for (let c = 0; c < 3; c++) design.set(3 * i + c, c, 1);
  const weighted = cholesky.solve(design);
  const information = invert(mat3Of(design.transpose().mmul(weighted)));
  if (!information) throw new RangeError('disagreement: the common point is not determined');
  const common = Matrix.columnVector([
    ...multiplyVec(information, pointOf(weighted.transpose().mmul(observed).to1DArray())),
  ]);
  const misfit = Matrix.sub(observed, design.mmul(common));
  return misfit.transpose().mmul(cholesky.solve(misfit)).get(0, 0);
}

/** What the rays alone say of a sighting: a depth lent by the line would make strangers on one component agree. */
export function freeOf(sighting: PlacedOccasion): {
  positionEnuM: ArrayLike<number>;
  randomCovarianceEnuM2: ArrayLike<number>;
} {
  const { placement } = sighting;
  if (!placement.withoutLine) return placement;
  return {
    positionEnuM: placement.withoutLine.positionEnuM,
    randomCovarianceEnuM2: placement.withoutLine.covarianceEnuM2.map(
      (value, i) => value - placement.systematicCovarianceEnuM2[i],
    ),
  };
}

const sameRig = (a: Occasion, b: Occasion): boolean => (a.errors.rigKey ?? '') === (b.errors.rigKey ?? '');

function sharedCovariance(a: PlacedOccasion, b: PlacedOccasion, same: boolean): Float64Array {
  const out = new Float64Array(9);
  for (let p = 0; p < SYSTEMATIC_COUNT; p++) {
    const rho = same ? 1 : p >= PASS_COUNT ? Number(sameRig(a, b)) : passCorrelation(a, b, p);
    if (rho === 0) continue;
    for (let r = 0; r < 3; r++)
      for (let c = 0; c < 3; c++) out[3 * r + c] += rho * a.systematicEffectM.get(r, p) * b.systematicEffectM.get(c, p);
  }
  return out;
}
