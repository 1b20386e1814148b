import { CholeskyDecomposition, Matrix } from 'ml-matrix';
import { invertSymmetric } from '../maths/leastSquares.ts';
import type { RobustLoss } from '../maths/robustLoss.ts';

/** Pairs of values (u, v), each of the two to be a combination of the same terms. */
export interface TwoLinear {
  /** One row of `termCount` for each pair. */
  readonly terms: Float64Array;
  readonly termCount: number;
  /** u, v of each pair. */
  readonly values: Float64Array;
  /** One over the standard deviation of each value, one for each pair. */
  readonly inverseSigma: Float64Array;
}

const MOST_ROUNDS = 100;

/**
 * Coefficients of u, then of v. Both have the same normal matrix, so half the size serves for all; being linear they need
 * no search but that for the robust weights of whole pairs, which falls without end to the one minimum of a convex loss.
 * Stops below 1e-7 standard deviations of every coefficient, or at a gain beyond rounding.
 * @returns null where the terms are not determined
 */
export function fitTwoLinear(
  { terms, termCount: n, values, inverseSigma }: TwoLinear,
  loss?: RobustLoss,
): Float64Array | null {
  const count = inverseSigma.length;
  const weights = inverseSigma.map((k) => k * k);
  const coefficients = new Float64Array(2 * n);
  let before = Number.POSITIVE_INFINITY;
  for (let round = 0; round < MOST_ROUNDS; round++) {
    const { normal, right } = normalEquations(terms, n, values, weights);
    const cholesky = new CholeskyDecomposition(normal);
    if (!cholesky.isPositiveDefinite() || (round === 0 && !invertSymmetric(normal))) return null;
    const solution = cholesky.solve(right);
    let step = 0;
    for (let k = 0; k < n; k++)
      for (let axis = 0; axis < 2; axis++) {
        const next = solution.get(k, axis);
        step = Math.max(step, Math.abs(next - coefficients[axis * n + k]) * Math.sqrt(normal.get(k, k)));
        coefficients[axis * n + k] = next;
      }
    if (!loss) return coefficients;
    let cost = 0;
    for (let i = 0; i < count; i++) {
      const k = inverseSigma[i];
      const squared = squaredGap(terms, n, values, coefficients, i) * k * k;
      cost += loss.rho(squared);
      weights[i] = loss.weight(squared) * k * k;
    }
    if (step < 1e-7 || before - cost <= 1e-14 * cost) return coefficients;
    before = cost;
  }
  return null;
}

/** Squared distance of pair `i` from what the coefficients make of its terms. */
function squaredGap(
  terms: Float64Array,
  n: number,
  values: Float64Array,
  coefficients: Float64Array,
  i: number,
): number {
  let u = values[2 * i];
  let v = values[2 * i + 1];
  for (let k = 0; k < n; k++) {
    const t = terms[i * n + k];
    u -= coefficients[k] * t;
    v -= coefficients[n + k] * t;
  }
  return u * u + v * v;
}

function normalEquations(
  terms: Float64Array,
  n: number,
  values: Float64Array,
  weights: Float64Array,
): { normal: Matrix; right: Matrix } {
  const upper = new Float64Array(n * n);
  const right = new Float64Array(2 * n);
  for (let i = 0; i < weights.length; i++) {
    const at = i * n;
    const wu = weights[i] * values[2 * i];
    const wv = weights[i] * values[2 * i + 1];
    for (let a = 0; a < n; a++) {
      const t = terms[at + a];
      right[2 * a] += t * wu;
      right[2 * a + 1] += t * wv;
      const wt = weights[i] * t;
      for (let b = a; b < n; b++) upper[a * n + b] += wt * terms[at + b];
    }
  }
  const normal = new Matrix(n, n);
  const both = new Matrix(n, 2);
  for (let a = 0; a < n; a++) {
    both.set(a, 0, right[2 * a]);
    both.set(a, 1, right[2 * a + 1]);
    for (let b = a; b < n; b++) {
      normal.set(a, b, upper[a * n + b]);
      normal.set(b, a, upper[a * n + b]);
    }
  }
  return { normal, right: both };
}
