import { CholeskyDecomposition, EigenvalueDecomposition, Matrix } from 'ml-matrix';
import type { RobustLoss } from './robustLoss.ts';

/** A small dense least-squares problem: minimise the sum of loss(residual²) over the parameters. */
export interface LeastSquaresProblem {
  readonly start: ArrayLike<number>;
  readonly residualCount: number;
  /**
   * Writes whitened residuals (divided by their standard deviations) to `residuals` (length residualCount) and, where
   * `jacobian` is given, their derivatives row by row (residualCount x parameters). Returns false where the parameters
   * make no sense (a point behind a camera): the step is then refused and shortened.
   */
  evaluateInto(residuals: Float64Array, jacobian: Float64Array | null, parameters: Float64Array): boolean;
  /** Applied to groups of `groupSize` consecutive residuals as one (2 for an image point). Default: none. */
  readonly loss?: RobustLoss;
  readonly groupSize?: number;
  readonly maxIterations?: number;
}

export interface LeastSquaresResult {
  readonly parameters: Float64Array;
  /** Inverse normal matrix at the solution, parameters x parameters, for residuals whitened rightly. */
  readonly covariance: Matrix;
  /** Sum of squared whitened residuals, without the robust loss. */
  readonly chiSquare: number;
  /** The value minimised: equal to chiSquare where there is no robust loss. */
  readonly cost: number;
  readonly residuals: Float64Array;
  /** Robust weight of each group, 1 = taken in full. */
  readonly weights: Float64Array;
  readonly iterations: number;
}

export type LeastSquaresOutcome =
  | ({ readonly kind: 'solved' } & LeastSquaresResult)
  | {
      readonly kind: 'refused';
      readonly because: 'bad start' | 'singular' | 'no convergence';
      readonly iterations: number;
    };

/**
 * Levenberg-Marquardt with Nielsen's damping rule, robust by iteratively reweighted least squares.
 * A parameter that the residuals do not determine makes the problem 'singular' rather than returning an invented value.
 * Source: Madsen, Nielsen & Tingleff, Methods for Non-Linear Least Squares Problems, 2nd ed. 2004, 3.2 (from memory).
 */
export function solveLeastSquares(problem: LeastSquaresProblem): LeastSquaresOutcome {
  const n = problem.start.length;
  const m = problem.residualCount;
  const group = problem.groupSize ?? 1;
  const maxIterations = problem.maxIterations ?? 100;
  const parameters = Float64Array.from(problem.start);
  const trial = new Float64Array(n);
  const residuals = new Float64Array(m);
  const trialResiduals = new Float64Array(m);
  const jacobian = new Float64Array(m * n);
  const weights = new Float64Array(Math.ceil(m / group)).fill(1);

  const costOf = (r: Float64Array): number => {
    let cost = 0;
    for (let g = 0; g < m; g += group) {
      let squared = 0;
      for (let i = g; i < Math.min(g + group, m); i++) squared += r[i] * r[i];
      cost += problem.loss ? problem.loss.rho(squared) : squared;
    }
    return cost;
  };

  if (!problem.evaluateInto(residuals, jacobian, parameters))
    return { kind: 'refused', because: 'bad start', iterations: 0 };
  let cost = costOf(residuals);
  if (!Number.isFinite(cost)) return { kind: 'refused', because: 'bad start', iterations: 0 };
  let damping = 1e-4;
  let growth = 2;
  let iterations = 0;
  let converged = false;

  while (iterations < maxIterations && !converged) {
    iterations++;
    const { normal, gradient } = normalEquations(residuals, jacobian, weights, n, group, problem.loss);
    let accepted = false;
    while (!accepted) {
      const damped = normal.clone();
      for (let i = 0; i < n; i++) damped.set(i, i, damped.get(i, i) * (1 + damping));
      const cholesky = new CholeskyDecomposition(damped);
      if (!cholesky.isPositiveDefinite()) {
        damping = Math.max(damping * growth, 1e-8);
        growth *= 2;
        if (damping > 1e16) return { kind: 'refused', because: 'singular', iterations };
        continue;
      }
      const step = cholesky.solve(Matrix.columnVector(gradient));
      let stepSize = 0;
      let predicted = 0;
      for (let i = 0; i < n; i++) {
        const d = -step.get(i, 0);
        trial[i] = parameters[i] + d;
        stepSize = Math.max(stepSize, Math.abs(d) * Math.sqrt(Math.max(normal.get(i, i), 0)));
        predicted += d * (damping * normal.get(i, i) * d - gradient[i]);
      }
      const sensible = problem.evaluateInto(trialResiduals, null, trial);
      const trialCost = sensible ? costOf(trialResiduals) : Number.POSITIVE_INFINITY;
      if (trialCost <= cost) {
        const ratio = predicted > 0 ? (cost - trialCost) / predicted : 1;
        damping *= Math.max(1 / 3, 1 - (2 * ratio - 1) ** 3);
        growth = 2;
        accepted = true;
        // A step below 1e-7 standard deviations of every parameter, or no gain beyond rounding, ends the search.
        converged = stepSize < 1e-7 || cost - trialCost <= 1e-14 * cost;
        cost = trialCost;
        parameters.set(trial);
        problem.evaluateInto(residuals, jacobian, parameters);
      } else if (stepSize < 1e-7) {
        accepted = true;
        converged = true;
      } else {
        damping *= growth;
        growth *= 2;
        if (damping > 1e16) {
          accepted = true;
          converged = true;
        }
      }
    }
  }
  if (!converged) return { kind: 'refused', because: 'no convergence', iterations };
  const { normal } = normalEquations(residuals, jacobian, weights, n, group, problem.loss);
  const covariance = invertSymmetric(normal);
  if (!covariance) return { kind: 'refused', because: 'singular', iterations };
  let chiSquare = 0;
  for (let i = 0; i < m; i++) chiSquare += residuals[i] * residuals[i];
  return { kind: 'solved', parameters, covariance, chiSquare, cost, residuals, weights, iterations };
}

function normalEquations(
  residuals: Float64Array,
  jacobian: Float64Array,
  weights: Float64Array,
  n: number,
  group: number,
  loss: RobustLoss | undefined,
): { normal: Matrix; gradient: Float64Array } {
  const m = residuals.length;
  const upper = new Float64Array(n * n);
  const gradient = new Float64Array(n);
  for (let g = 0; g * group < m; g++) {
    const end = Math.min((g + 1) * group, m);
    if (loss) {
      let squared = 0;
      for (let i = g * group; i < end; i++) squared += residuals[i] * residuals[i];
      weights[g] = loss.weight(squared);
    }
    const w = weights[g];
    if (w === 0) continue;
    for (let i = g * group; i < end; i++) {
      const row = i * n;
      for (let a = 0; a < n; a++) {
        const ja = jacobian[row + a] * w;
        if (ja === 0) continue;
        gradient[a] += ja * residuals[i];
        for (let b = a; b < n; b++) upper[a * n + b] += ja * jacobian[row + b];
      }
    }
  }
  const normal = new Matrix(n, n);
  for (let a = 0; a < n; a++) {
    for (let b = a; b < n; b++) {
      normal.set(a, b, upper[a * n + b]);
      normal.set(b, a, upper[a * n + b]);
    }
  }
  return { normal, gradient };
}

/** The inverse of a symmetric positive definite matrix, or null where its scaled condition exceeds 1e14. */
export function invertSymmetric(m: Matrix): Matrix | null {
  const n = m.rows;
  // Scale to a unit diagonal first: parameters of unlike units would otherwise look ill-conditioned.
  const s = Array.from({ length: n }, (_, i) => 1 / Math.sqrt(m.get(i, i)));
  if (s.some((x) => !Number.isFinite(x))) return null;
  const scaled = new Matrix(n, n);
  for (let i = 0; i < n; i++) for (let j = 0; j < n; j++) scaled.set(i, j, m.get(i, j) * s[i] * s[j]);
  const { realEigenvalues, eigenvectorMatrix } = new EigenvalueDecomposition(scaled, { assumeSymmetric: true });
  const largest = Math.max(...realEigenvalues);
  const smallest = Math.min(...realEigenvalues);
  if (!(smallest > largest * 1e-14)) return null;
  const inverse = new Matrix(n, n);
  for (let i = 0; i < n; i++) {
    for (let j = i; j < n; j++) {
      let sum = 0;
      for (let k = 0; k < n; k++)
        sum += (eigenvectorMatrix.get(i, k) * eigenvectorMatrix.get(j, k)) / realEigenvalues[k];
      inverse.set(i, j, sum * s[i] * s[j]);
      inverse.set(j, i, sum * s[i] * s[j]);
    }
  }
  return inverse;
}
