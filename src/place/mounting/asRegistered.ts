import { Matrix } from 'ml-matrix';
import { invertSymmetric } from '../../maths/leastSquares.ts';
import { PASS_COUNT, type SystematicErrors } from '../SystematicErrors.ts';
import { systematicRoot } from '../systematicPrior.ts';
import { MOUNTING_COUNT } from './MountingParameters.ts';
import type { MountingSolution } from './solveMounting.ts';

const LENS_COUNT = 9;

/**
 * The mounting to use with the lens exactly as it was registered, which a flight often knows far better than boresight and
 * principal point apart: the mean of the mounting's law on the condition that the lens is right,
 * x - C_xz C_zz⁻¹ z, with the lens unknowns z in their standard deviations.
 */
export function correctionAsRegistered(solution: MountingSolution): Float64Array {
  const { columns, covariance, unknowns } = solution;
  const lens = lensColumns(solution);
  const correction = Float64Array.from(solution.correction);
  const inverse = invertSymmetric(covariance.selection(lens, lens));
  if (!inverse) return correction;
  const z = Matrix.columnVector(lens.map((column) => unknowns[column]));
  const x = columns.mounting.map((_, i) => i);
  const shift = covariance.selection(x, lens).mmul(inverse).mmul(z);
  columns.mounting.forEach((parameter, i) => {
    correction[parameter] -= shift.get(i, 0);
  });
  return correction;
}

/**
 * Covariance of mounting and uv lens together about that mounting and the registered lens, 16 x 16 row by row: the
 * spread of the law, and the square of the distance of its mean.
 * @param mounting7 covariance of the seven, with what held ones add
 */
export function covarianceAsRegistered(
  solution: MountingSolution,
  mounting7: Matrix,
  widenedBy: number,
  errors: SystematicErrors,
): Float64Array {
  const { columns, covariance, unknowns, correction } = solution;
  const lens = lensColumns(solution);
  const asRegistered = correctionAsRegistered(solution);
  const n = MOUNTING_COUNT + LENS_COUNT;
  const away = [
    ...Array.from(correction, (value, i) => value - asRegistered[i]),
    ...lens.map((column) => unknowns[column]),
  ];
  const second = new Matrix(n, n);
  for (let i = 0; i < n; i++)
    for (let j = 0; j < n; j++) {
      let value = 0;
      if (i < MOUNTING_COUNT && j < MOUNTING_COUNT) value = mounting7.get(i, j);
      else {
        const a = i < MOUNTING_COUNT ? columns.mounting.indexOf(i) : lens[i - MOUNTING_COUNT];
        const b = j < MOUNTING_COUNT ? columns.mounting.indexOf(j) : lens[j - MOUNTING_COUNT];
        if (a >= 0 && b >= 0) value = covariance.get(a, b) * widenedBy;
      }
      second.set(i, j, value + away[i] * away[j]);
    }
  // From standard deviations of the lens to its parameters.
  const root = systematicRoot(errors);
  const scale = Matrix.eye(n);
  const at = PASS_COUNT + MOUNTING_COUNT;
  for (let i = 0; i < LENS_COUNT; i++)
    for (let j = 0; j < LENS_COUNT; j++) scale.set(MOUNTING_COUNT + i, MOUNTING_COUNT + j, root.get(at + i, at + j));
  const both = scale.mmul(second).mmul(scale.transpose());
  return Float64Array.from({ length: n * n }, (_, k) => both.get(Math.floor(k / n), k % n));
}

const lensColumns = ({ columns }: MountingSolution): number[] =>
  Array.from({ length: LENS_COUNT }, (_, i) => columns.lens + i);
