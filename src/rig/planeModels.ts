import { solveLeastSquares } from '../maths/leastSquares.ts';
import type { RobustLoss } from '../maths/robustLoss.ts';
import { fitTwoLinear } from './fitTwoLinear.ts';
import type { PlaneModel } from './Registration.ts';
import { polynomialTerms } from './residualField.ts';

export type PlaneKind = PlaneModel['kind'];
export const PLANE_KINDS: readonly PlaneKind[] = [
  'shift',
  'similarity',
  'affine',
  'projective',
  'polynomial degree 2',
  'polynomial degree 3',
];

/** A uv pixel and the colour pixel of the same point, with the standard deviation of their difference, per axis. */
export interface PlanePair {
  readonly uv: readonly [number, number];
  readonly colour: readonly [number, number];
  readonly sigmaPx: number;
}

/**
 * Coefficients, with x, y the uv pixel scaled to about [-1, 1]:
 *   shift       [a, b]            u' = u + a, v' = v + b, in unscaled pixels
 *   similarity  [a, b, c, d]      u' = c + a x - b y, v' = d + b x + a y
 *   affine      [a .. f]          u' = a + b x + c y, v' = d + e x + f y
 *   projective  [a .. h]          the affine forms over 1 + g x + h y
 *   polynomial  [u terms, v terms] in the order of polynomialTerms
 */
const COEFFICIENTS: Record<PlaneKind, number> = {
  shift: 2,
  similarity: 4,
  affine: 6,
  projective: 8,
  'polynomial degree 2': 12,
  'polynomial degree 3': 20,
};

export const planeCoefficientCount = (kind: PlaneKind): number => COEFFICIENTS[kind];

/** Degree of the polynomial that u' and v' each are, with coefficients of their own; the other kinds share theirs. */
const DEGREES: Partial<Record<PlaneKind, 0 | 1 | 2 | 3>> = {
  shift: 0,
  affine: 1,
  'polynomial degree 2': 2,
  'polynomial degree 3': 3,
};

/** The colour pixel that a plane model gives, whatever the range; NaN where a projective one has none. */
export function applyPlaneModel({ kind, coefficients: c, scale }: PlaneModel, u: number, v: number): [number, number] {
  const degree = DEGREES[kind];
  if (kind === 'shift') return [u + c[0], v + c[1]];
  const x = (u - scale.centrePx[0]) / scale.halfWidthPx;
  const y = (v - scale.centrePx[1]) / scale.halfWidthPx;
  if (degree === undefined) {
    const out = new Float64Array(2);
    return evaluateShared(kind, c, x, y, out, null) ? [out[0], out[1]] : [Number.NaN, Number.NaN];
  }
  const terms = polynomialTerms(x, y, degree);
  const at: [number, number] = [0, 0];
  terms.forEach((t, k) => {
    at[0] += c[k] * t;
    at[1] += c[terms.length + k] * t;
  });
  return at;
}

/**
 * Fits a plane model: least squares first, then robustly on the scale of what the model itself leaves, which parallax
 * may make many times the noise.
 * @returns null where the pairs are too few or lie so that they do not determine it
 */
export function fitPlaneModel(
  kind: PlaneKind,
  pairs: readonly PlanePair[],
  scale: PlaneModel['scale'],
  loss?: RobustLoss,
): PlaneModel | null {
  if (2 * pairs.length < COEFFICIENTS[kind]) return null;
  const degree = DEGREES[kind];
  const solve =
    degree === undefined ? solverOfShared(kind, pairs, scale) : solverOfPolynomial(kind, degree, pairs, scale);
  const plain = solve(1, null);
  if (!plain) return null;
  const model: PlaneModel = { kind, coefficients: Array.from(plain), scale };
  if (!loss) return model;
  const sizes = Float64Array.from(pairs, ({ uv, colour, sigmaPx }) => {
    const [u, v] = applyPlaneModel(model, uv[0], uv[1]);
    return Math.hypot(colour[0] - u, colour[1] - v) / sigmaPx;
  }).sort();
  // The median of a Rayleigh law is 1.177 standard deviations.
  const spread = Math.max(1, sizes[sizes.length >> 1] / 1.177);
  return { kind, coefficients: Array.from(solve(spread, plain, loss) ?? plain), scale };
}

/** From the factor on the standard deviations, a start and a loss to coefficients. */
type Solve = (spread: number, start: Float64Array | null, loss?: RobustLoss) => Float64Array | null;

function solverOfPolynomial(
  kind: PlaneKind,
  degree: 0 | 1 | 2 | 3,
  pairs: readonly PlanePair[],
  scale: PlaneModel['scale'],
): Solve {
  const termCount = COEFFICIENTS[kind] / 2;
  const terms = new Float64Array(pairs.length * termCount);
  const values = new Float64Array(2 * pairs.length);
  pairs.forEach(({ uv, colour }, i) => {
    const x = (uv[0] - scale.centrePx[0]) / scale.halfWidthPx;
    const y = (uv[1] - scale.centrePx[1]) / scale.halfWidthPx;
    terms.set(polynomialTerms(x, y, degree), i * termCount);
    values[2 * i] = kind === 'shift' ? colour[0] - uv[0] : colour[0];
    values[2 * i + 1] = kind === 'shift' ? colour[1] - uv[1] : colour[1];
  });
  return (spread, _start, loss) => {
    const inverseSigma = Float64Array.from(pairs, (p) => 1 / (p.sigmaPx * spread));
    return fitTwoLinear({ terms, termCount, values, inverseSigma }, loss);
  };
}

function solverOfShared(kind: PlaneKind, pairs: readonly PlanePair[], scale: PlaneModel['scale']): Solve {
  const n = COEFFICIENTS[kind];
  const out = new Float64Array(2);
  const byCoefficients = new Float64Array(2 * n);
  return (spread, start, loss) => {
    const outcome = solveLeastSquares({
      start: start ?? startFor(kind, pairs, scale),
      residualCount: 2 * pairs.length,
      groupSize: 2,
      loss,
      evaluateInto(residuals, jacobian, parameters) {
        for (let i = 0; i < pairs.length; i++) {
          const { uv, colour } = pairs[i];
          const k = 1 / (pairs[i].sigmaPx * spread);
          const x = (uv[0] - scale.centrePx[0]) / scale.halfWidthPx;
          const y = (uv[1] - scale.centrePx[1]) / scale.halfWidthPx;
          if (!evaluateShared(kind, parameters, x, y, out, jacobian ? byCoefficients : null)) return false;
          residuals[2 * i] = (colour[0] - out[0]) * k;
          residuals[2 * i + 1] = (colour[1] - out[1]) * k;
          if (jacobian) for (let c = 0; c < 2 * n; c++) jacobian[2 * i * n + c] = -byCoefficients[c] * k;
        }
        return true;
      },
    });
    return outcome.kind === 'solved' ? outcome.parameters : null;
  };
}

function startFor(kind: PlaneKind, pairs: readonly PlanePair[], scale: PlaneModel['scale']): number[] {
  const middle = (i: 0 | 1): number => pairs.reduce((s, p) => s + p.colour[i], 0) / pairs.length;
  const k = scale.halfWidthPx;
  return kind === 'similarity' ? [k, 0, middle(0), middle(1)] : [middle(0), k, 0, middle(1), 0, k, 0, 0];
}

/** Similarity or projective: writes the colour pixel to `out` and, where given, its derivatives (2 x coefficients) to `jacobian`. */
function evaluateShared(
  kind: PlaneKind,
  c: ArrayLike<number>,
  x: number,
  y: number,
  out: Float64Array,
  jacobian: Float64Array | null,
): boolean {
  if (kind === 'similarity') {
    out[0] = c[2] + c[0] * x - c[1] * y;
    out[1] = c[3] + c[1] * x + c[0] * y;
    jacobian?.set([x, -y, 1, 0, y, x, 0, 1]);
    return true;
  }
  const w = 1 + c[6] * x + c[7] * y;
  if (!(w > 1e-6)) return false;
  out[0] = (c[0] + c[1] * x + c[2] * y) / w;
  out[1] = (c[3] + c[4] * x + c[5] * y) / w;
  jacobian?.set([1 / w, x / w, y / w, 0, 0, 0, (-out[0] * x) / w, (-out[0] * y) / w]);
  jacobian?.set([0, 0, 0, 1 / w, x / w, y / w, (-out[1] * x) / w, (-out[1] * y) / w], 8);
  return true;
}
