import { solveLeastSquares } from '../maths/leastSquares.ts';
import type { RobustLoss } from '../maths/robustLoss.ts';
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

/** The colour pixel that a plane model gives, whatever the range; NaN where a projective one has none. */
export function applyPlaneModel(model: PlaneModel, u: number, v: number): [number, number] {
  const out = new Float64Array(2);
  const good = evaluate(model.kind, model.coefficients, model.scale, u, v, out, null);
  return good ? [out[0], out[1]] : [Number.NaN, Number.NaN];
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
  const plain = solvePlane(kind, pairs, scale, startFor(kind, pairs, scale), 1);
  if (!plain || !loss) return plain && { kind, coefficients: Array.from(plain.parameters), scale };
  const sizes = pairs
    .map((_, i) => Math.hypot(plain.residuals[2 * i], plain.residuals[2 * i + 1]))
    .sort((a, b) => a - b);
  // The median of a Rayleigh law is 1.177 standard deviations.
  const spread = Math.max(1, sizes[sizes.length >> 1] / 1.177);
  const robust = solvePlane(kind, pairs, scale, plain.parameters, spread, loss);
  return { kind, coefficients: Array.from((robust ?? plain).parameters), scale };
}

function solvePlane(
  kind: PlaneKind,
  pairs: readonly PlanePair[],
  scale: PlaneModel['scale'],
  start: ArrayLike<number>,
  spread: number,
  loss?: RobustLoss,
): { parameters: Float64Array; residuals: Float64Array } | null {
  const n = COEFFICIENTS[kind];
  const out = new Float64Array(2);
  const byCoefficients = new Float64Array(2 * n);
  const outcome = solveLeastSquares({
    start,
    residualCount: 2 * pairs.length,
    groupSize: 2,
    loss,
    evaluateInto(residuals, jacobian, parameters) {
      for (let i = 0; i < pairs.length; i++) {
        const { uv, colour } = pairs[i];
        const k = 1 / (pairs[i].sigmaPx * spread);
        if (!evaluate(kind, parameters, scale, uv[0], uv[1], out, jacobian ? byCoefficients : null)) return false;
        residuals[2 * i] = (colour[0] - out[0]) * k;
        residuals[2 * i + 1] = (colour[1] - out[1]) * k;
        if (jacobian) for (let c = 0; c < 2 * n; c++) jacobian[2 * i * n + c] = -byCoefficients[c] * k;
      }
      return true;
    },
  });
  return outcome.kind === 'solved' ? outcome : null;
}

function startFor(kind: PlaneKind, pairs: readonly PlanePair[], scale: PlaneModel['scale']): number[] {
  const start = new Array<number>(COEFFICIENTS[kind]).fill(0);
  const middle = (i: 0 | 1): number => pairs.reduce((s, p) => s + p.colour[i], 0) / pairs.length;
  const k = scale.halfWidthPx;
  if (kind === 'similarity') return [k, 0, middle(0), middle(1)];
  if (kind === 'affine' || kind === 'projective') {
    start.splice(0, 6, middle(0), k, 0, middle(1), 0, k);
  } else if (kind !== 'shift') {
    const half = start.length / 2;
    start[0] = middle(0);
    start[1] = k;
    start[half] = middle(1);
    start[half + 2] = k;
  }
  return start;
}

/** Writes the colour pixel to `out` and, where given, its derivatives (2 x coefficients) to `jacobian`. */
function evaluate(
  kind: PlaneKind,
  c: ArrayLike<number>,
  scale: PlaneModel['scale'],
  u: number,
  v: number,
  out: Float64Array,
  jacobian: Float64Array | null,
): boolean {
  const x = (u - scale.centrePx[0]) / scale.halfWidthPx;
  const y = (v - scale.centrePx[1]) / scale.halfWidthPx;
  switch (kind) {
    case 'shift':
      out[0] = u + c[0];
      out[1] = v + c[1];
      jacobian?.set([1, 0, 0, 1]);
      return true;
    case 'similarity':
      out[0] = c[2] + c[0] * x - c[1] * y;
      out[1] = c[3] + c[1] * x + c[0] * y;
      jacobian?.set([x, -y, 1, 0, y, x, 0, 1]);
      return true;
    case 'affine':
      out[0] = c[0] + c[1] * x + c[2] * y;
      out[1] = c[3] + c[4] * x + c[5] * y;
      jacobian?.set([1, x, y, 0, 0, 0, 0, 0, 0, 1, x, y]);
      return true;
    case 'projective': {
      const w = 1 + c[6] * x + c[7] * y;
      if (!(w > 1e-6)) return false;
      out[0] = (c[0] + c[1] * x + c[2] * y) / w;
      out[1] = (c[3] + c[4] * x + c[5] * y) / w;
      jacobian?.set([1 / w, x / w, y / w, 0, 0, 0, (-out[0] * x) / w, (-out[0] * y) / w]);
      jacobian?.set([0, 0, 0, 1 / w, x / w, y / w, (-out[1] * x) / w, (-out[1] * y) / w], 8);
      return true;
    }
    default: {
      const terms = polynomialTerms(x, y, kind === 'polynomial degree 2' ? 2 : 3);
      const n = terms.length;
      out[0] = 0;
      out[1] = 0;
      jacobian?.fill(0);
      for (let i = 0; i < n; i++) {
        out[0] += c[i] * terms[i];
        out[1] += c[n + i] * terms[i];
        if (jacobian) {
          jacobian[i] = terms[i];
          jacobian[3 * n + i] = terms[i];
        }
      }
      return true;
    }
  }
}
