import { CholeskyDecomposition, Matrix } from 'ml-matrix';
import { addMat, IDENTITY3, type Mat3, multiply, scaleMat } from '../../maths/mat3.ts';
import { crossMatrix, rotationFromVector } from '../../maths/rotation.ts';
import { add, type Vec3 } from '../../maths/vec3.ts';
import type { Mounting } from '../../rig/Mounting.ts';

/**
 * The seven of a mounting, as corrections to a nominal one: boresight as a rotation vector in body axes (forward, right,
 * down; rad), applied on the left of bodyFromUv; lever arm (forward, right, down; m); time offset (s).
 */
export const MOUNTING_PARAMETERS = [
  'boresight about forward',
  'boresight about right',
  'boresight about down',
  'lever arm forward',
  'lever arm right',
  'lever arm down',
  'time offset',
] as const;
export const MOUNTING_COUNT = 7;

/** A mounting corrected by seven numbers; the uncertainties are those of the nominal one. */
export function correctedMounting(nominal: Mounting, correction: ArrayLike<number>): Mounting {
  const [bx, by, bz, lx, ly, lz, t] = Array.from(correction);
  return {
    ...nominal,
    bodyFromUv: {
      rotation: multiply(rotationFromVector([bx, by, bz]), nominal.bodyFromUv.rotation),
      translation: add(nominal.bodyFromUv.translation, [lx, ly, lz]),
    },
    timeOffsetNs: nominal.timeOffsetNs + t * 1e9,
  };
}

/**
 * The derivative of a rotation by its vector b: exp(b + db) = exp(J db) exp(b). To the second order in b, which for a
 * degree leaves 1e-6. Source: Barfoot, State Estimation for Robotics, 2017, eq. 7.77 (from memory).
 */
export function leftJacobian(b: Vec3): Mat3 {
  const k = crossMatrix(b);
  return addMat(addMat(IDENTITY3, scaleMat(k, 1 / 2)), scaleMat(multiply(k, k), 1 / 6));
}

/** Covariance of the seven as a mounting states it, 7 x 7. */
export function statedCovariance(mounting: Mounting): Matrix {
  if (mounting.jointCovariance) {
    const n = Math.sqrt(mounting.jointCovariance.length);
    return Matrix.from1DArray(n, n, Array.from(mounting.jointCovariance)).subMatrix(0, 6, 0, 6);
  }
  const m = Matrix.zeros(MOUNTING_COUNT, MOUNTING_COUNT);
  for (let i = 0; i < 3; i++)
    for (let j = 0; j < 3; j++) {
      m.set(i, j, mounting.boresightCovarianceRad2[3 * i + j]);
      m.set(3 + i, 3 + j, mounting.leverArmCovarianceM2[3 * i + j]);
    }
  m.set(6, 6, (mounting.timeOffsetSigmaNs * 1e-9) ** 2);
  return m;
}

/** Rows that whiten the deviation of the chosen parameters from nought: W with WᵀW the inverse of their covariance. */
export function whiteningRows(covariance: Matrix, chosen: readonly number[]): Matrix {
  const n = chosen.length;
  const out = Matrix.zeros(n, MOUNTING_COUNT);
  if (n === 0) return out;
  const cholesky = new CholeskyDecomposition(covariance.selection([...chosen], [...chosen]));
  if (!cholesky.isPositiveDefinite())
    throw new RangeError('whiteningRows: a prior deviation of nought cannot be weighed');
  // L⁻¹ row by row: the last step of the factorisation, n is 7 at most.
  const lower = cholesky.lowerTriangularMatrix;
  for (let c = 0; c < n; c++)
    for (let r = c; r < n; r++) {
      let value = r === c ? 1 : 0;
      for (let k = c; k < r; k++) value -= lower.get(r, k) * out.get(k, chosen[c]);
      out.set(r, chosen[c], value / lower.get(r, r));
    }
  return out;
}
