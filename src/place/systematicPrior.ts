import { EigenvalueDecomposition, Matrix } from 'ml-matrix';
import type { Mat3 } from '../maths/mat3.ts';
import { PASS_COUNT, SYSTEMATIC_COUNT, type SystematicErrors } from './SystematicErrors.ts';

/** The symmetric root L of a positive semi-definite covariance, L Lᵀ = covariance: parameters are L z with z of unit variance. */
export function semidefiniteRoot(covariance: ArrayLike<number>, n: number): Matrix {
  const m = new Matrix(n, n);
  for (let i = 0; i < n; i++)
    for (let j = 0; j < n; j++) m.set(i, j, (covariance[i * n + j] + covariance[j * n + i]) / 2);
  const { realEigenvalues, eigenvectorMatrix } = new EigenvalueDecomposition(m, { assumeSymmetric: true });
  const roots = Matrix.diag(realEigenvalues.map((value) => Math.sqrt(Math.max(0, value))));
  return eigenvectorMatrix.mmul(roots).mmul(eigenvectorMatrix.transpose());
}

/** Root of the prior covariance of all systematic parameters, SYSTEMATIC_COUNT squared, the pass's first. */
export function systematicRoot(errors: SystematicErrors): Matrix {
  let root = rootOfErrors.get(errors);
  if (!root) {
    root = buildRoot(errors);
    rootOfErrors.set(errors, root);
  }
  return root;
}

// The errors of a flight are asked for with every sighting, and their eigenvalues cost more than a placing.
const rootOfErrors = new WeakMap<SystematicErrors, Matrix>();

function buildRoot(errors: SystematicErrors): Matrix {
  const root = Matrix.zeros(SYSTEMATIC_COUNT, SYSTEMATIC_COUNT);
  const { roll, pitch, heading } = errors.attitudeSigmaRad;
  [...errors.positionSigmaEnuM, roll, pitch, heading].forEach((sigma, i) => {
    root.set(i, i, sigma);
  });
  const place = (covariance: Mat3 | Float64Array, n: number, at: number): void => {
    const block = semidefiniteRoot(covariance, n);
    for (let i = 0; i < n; i++) for (let j = 0; j < n; j++) root.set(at + i, at + j, block.get(i, j));
  };
  const { jointCovariance } = errors.mounting;
  const together = jointCovariance ? Math.sqrt(jointCovariance.length) : 0;
  if (jointCovariance) place(jointCovariance, together, PASS_COUNT);
  else {
    place(errors.mounting.boresightCovarianceRad2, 3, PASS_COUNT);
    place(errors.mounting.leverArmCovarianceM2, 3, PASS_COUNT + 3);
    root.set(PASS_COUNT + 6, PASS_COUNT + 6, errors.mounting.timeOffsetSigmaNs * 1e-9);
  }
  if (together < 16) place(errors.lensCovariance, 9, PASS_COUNT + 7);
  return root;
}
