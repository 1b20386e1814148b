import { Matrix } from 'ml-matrix';
import { RAY_LOSS } from '../placeSighting.ts';
import { MOUNTING_COUNT, statedCovariance } from './MountingParameters.ts';
import { type MountingProblem, type MountingSolution, mountingEquations } from './solveMounting.ts';

/**
 * Covariance of all seven where some were held: a held one keeps its stated deviation, and what that does to the others is
 * added to theirs, dx/dh = -C Jxᵀ W Jh. Source: Schmidt's consider covariance; Tapley, Schutz & Born, Statistical Orbit
 * Determination, 2004, 6.5 (from memory).
 */
export function considerHeld(problem: MountingProblem, solution: MountingSolution): Matrix {
  const { columns, covariance } = solution;
  const out = Matrix.zeros(MOUNTING_COUNT, MOUNTING_COUNT);
  columns.mounting.forEach((i, a) => {
    columns.mounting.forEach((j, b) => {
      out.set(i, j, covariance.get(a, b));
    });
  });
  const held = problem.free.flatMap((free, i) => (free ? [] : [i]));
  if (held.length === 0) return out;
  // The same equations with every parameter free, at the solution.
  const all = mountingEquations(
    { ...problem, free: problem.free.map(() => true), start: solution.correction },
    solution.pointsEnuM,
  );
  const unknowns = all.start;
  const shift = MOUNTING_COUNT - columns.mounting.length;
  solution.unknowns.forEach((value, column) => {
    if (column >= columns.mounting.length) unknowns[column + shift] = value;
  });
  const residuals = new Float64Array(all.rows);
  const jacobian = new Float64Array(all.rows * all.columns.total);
  all.evaluateInto(residuals, jacobian, unknowns);
  const total = columns.total;
  const pull = Matrix.zeros(total, held.length);
  for (let row = 0; row < all.rayRows; row++) {
    const pair = row - (row % 2);
    const weight = RAY_LOSS.weight(residuals[pair] ** 2 + residuals[pair + 1] ** 2);
    const at = row * all.columns.total;
    held.forEach((parameter, h) => {
      const slope = weight * jacobian[at + parameter];
      for (let x = 0; x < total; x++) {
        const column = x < columns.mounting.length ? columns.mounting[x] : x + shift;
        const j = jacobian[at + column];
        if (j !== 0) pull.set(x, h, pull.get(x, h) + j * slope);
      }
    });
  }
  const effect = covariance.mmul(pull).mul(-1);
  const stated = statedCovariance(problem.nominal).selection(held, held);
  const added = effect.mmul(stated);
  const both = added.mmul(effect.transpose());
  columns.mounting.forEach((i, a) => {
    columns.mounting.forEach((j, b) => {
      out.set(i, j, out.get(i, j) + both.get(a, b));
    });
    held.forEach((h, k) => {
      out.set(i, h, added.get(a, k));
      out.set(h, i, added.get(a, k));
    });
  });
  held.forEach((i, a) => {
    held.forEach((j, b) => {
      out.set(i, j, stated.get(a, b));
    });
  });
  return out;
}
