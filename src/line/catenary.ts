import { solveLeastSquares } from '../maths/leastSquares.ts';

/**
 * A wire hanging between two supports, in the upright plane through both: x runs level from the first support, z up
 * from it. z(x) = C cosh((x - lowX) / C) + constant, through (0, 0) and (span, rise).
 */
export interface Catenary {
  readonly spanM: number;
  /** Height of the second support above the first. */
  readonly riseM: number;
  /** C = horizontal tension over weight per length; Infinity for a taut straight wire. */
  readonly parameterM: number;
  /** Where the curve is lowest; may lie outside the span. */
  readonly lowXM: number;
}

/** Source: the equation of the catenary; low point from the rise by an area sine (any text on overhead lines). */
export function catenaryFromParameter(spanM: number, riseM: number, parameterM: number): Catenary {
  if (!(spanM > 0) || !(parameterM > 0)) throw new RangeError('catenary: span and parameter must be above 0');
  const half = spanM / (2 * parameterM);
  const lowXM =
    parameterM === Number.POSITIVE_INFINITY
      ? Number.NaN
      : spanM / 2 - parameterM * Math.asinh(riseM / (2 * parameterM * Math.sinh(half)));
  return { spanM, riseM, parameterM, lowXM };
}

/** @param weightNPerM of wire, with ice where there is some */
export const catenaryFromTension = (
  spanM: number,
  riseM: number,
  horizontalTensionN: number,
  weightNPerM: number,
): Catenary => catenaryFromParameter(spanM, riseM, horizontalTensionN / weightNPerM);

/** @param sagM of the wire below the middle of the straight line between the supports, measured upright; 0 = taut */
export function catenaryFromSag(spanM: number, riseM: number, sagM: number): Catenary {
  if (!(sagM >= 0)) throw new RangeError('catenary: the sag must not be negative');
  if (sagM === 0) return catenaryFromParameter(spanM, riseM, Number.POSITIVE_INFINITY);
  // Sag falls steadily with C: bracket from the parabola's C, then halve the bracket in the logarithm.
  let low = (spanM * spanM) / (8 * sagM);
  let high = low;
  // cosh overflows beyond 700: a wire that hangs deeper than 350 times its span is none.
  while (sagOfParameter(spanM, riseM, low) < sagM && spanM / low < 1400) low /= 2;
  while (sagOfParameter(spanM, riseM, high) > sagM) high *= 2;
  for (let i = 0; i < 80 && high / low > 1 + 1e-15; i++) {
    const middle = Math.sqrt(low * high);
    if (sagOfParameter(spanM, riseM, middle) > sagM) low = middle;
    else high = middle;
  }
  return catenaryFromParameter(spanM, riseM, Math.sqrt(low * high));
}

function sagOfParameter(spanM: number, riseM: number, parameterM: number): number {
  const quarter = spanM / (4 * parameterM);
  const slope = riseM / (2 * parameterM * Math.sinh(2 * quarter));
  // cosh(2q) - 1 = 2 sinh(q)^2 keeps its digits for taut wires.
  return parameterM * Math.sqrt(1 + slope * slope) * 2 * Math.sinh(quarter) ** 2;
}

/** Height above the first support at the level distance x from it. */
export function heightAt({ spanM, riseM, parameterM, lowXM }: Catenary, xM: number): number {
  if (parameterM === Number.POSITIVE_INFINITY) return (riseM * xM) / spanM;
  // Difference of two cosh as a product, which keeps its digits for taut wires.
  return 2 * parameterM * Math.sinh(xM / (2 * parameterM)) * Math.sinh((xM - 2 * lowXM) / (2 * parameterM));
}

/** Of the wire below the middle of the straight line between the supports, measured upright. */
export const sagAtMiddle = ({ spanM, riseM, parameterM }: Catenary): number =>
  parameterM === Number.POSITIVE_INFINITY ? 0 : sagOfParameter(spanM, riseM, parameterM);

/** Length of wire between the supports. */
export function wireLength({ spanM, riseM, parameterM }: Catenary): number {
  if (parameterM === Number.POSITIVE_INFINITY) return Math.hypot(spanM, riseM);
  return Math.hypot(2 * parameterM * Math.sinh(spanM / (2 * parameterM)), riseM);
}

/** Tension along the wire at x. The larger of the two ends is the largest of the span. */
export const tensionAt = ({ parameterM, lowXM }: Catenary, xM: number, weightNPerM: number): number =>
  weightNPerM * parameterM * Math.cosh((xM - lowXM) / parameterM);

/**
 * Level distances of points on the wire, ends included, such that straight pieces between them stay within
 * `chordErrorM` of it. Equal steps serve: both the piece and the radius of curvature lengthen towards the supports so
 * that the error is step² / 8C everywhere.
 */
export function sampleX({ spanM, parameterM }: Catenary, chordErrorM: number): number[] {
  const pieces = Math.max(1, Math.ceil(spanM / Math.sqrt(8 * parameterM * chordErrorM)));
  return Array.from({ length: pieces + 1 }, (_, i) => (i === pieces ? spanM : (spanM * i) / pieces));
}

export type SagFit =
  | { readonly kind: 'fitted'; readonly sagM: number; readonly rmsM: number }
  | {
      readonly kind: 'refused';
      readonly because: 'no points between the ends' | 'points do not hang' | 'no convergence';
    };

/** The sag below the middle of the chord that best meets points [x, z] of a wire whose ends are known; errors upright. */
export function sagThroughPoints(
  spanM: number,
  riseM: number,
  points: readonly (readonly [xM: number, zM: number])[],
): SagFit {
  const inside = points.filter(([x]) => x > 0 && x < spanM);
  if (inside.length === 0) return { kind: 'refused', because: 'no points between the ends' };
  // By the parabola, each point weighted with the square of what its depth says of the sag.
  const share = (x: number) => (4 * x * (spanM - x)) / spanM ** 2;
  const start =
    inside.reduce((sum, [x, z]) => sum + share(x) * ((riseM * x) / spanM - z), 0) /
    inside.reduce((sum, [x]) => sum + share(x) ** 2, 0);
  if (!(start > 0)) return { kind: 'refused', because: 'points do not hang' };
  const depth = (x: number, logSag: number) => heightAt(catenaryFromSag(spanM, riseM, Math.exp(logSag)), x);
  const outcome = solveLeastSquares({
    // ln of the sag, so that it stays above 0.
    start: [Math.log(start)],
    residualCount: inside.length,
    evaluateInto: (residuals, jacobian, [logSag]) => {
      inside.forEach(([x, z], i) => {
        residuals[i] = depth(x, logSag) - z;
        // Central difference over 1e-4 in the logarithm: relative error 1e-8.
        if (jacobian) jacobian[i] = (depth(x, logSag + 1e-4) - depth(x, logSag - 1e-4)) / 2e-4;
      });
      return residuals.every(Number.isFinite);
    },
  });
  if (outcome.kind === 'refused') return { kind: 'refused', because: 'no convergence' };
  return {
    kind: 'fitted',
    sagM: Math.exp(outcome.parameters[0]),
    rmsM: Math.sqrt(outcome.chiSquare / inside.length),
  };
}

export type CatenaryFit =
  | {
      readonly kind: 'fitted';
      readonly parameterM: number;
      readonly lowXM: number;
      readonly lowZM: number;
      readonly rmsM: number;
    }
  | { readonly kind: 'refused'; readonly because: 'too few points' | 'points do not hang' | 'no convergence' };

/** Least-squares catenary through measured points [x, z] of one wire, errors taken as upright and equal. */
export function catenaryThroughPoints(points: readonly (readonly [xM: number, zM: number])[]): CatenaryFit {
  if (points.length < 4) return { kind: 'refused', because: 'too few points' };
  const middle = points.reduce((sum, [x]) => sum + x, 0) / points.length;
  const start = parabola(points, middle);
  if (!start || !(start.curvature > 0)) return { kind: 'refused', because: 'points do not hang' };
  const c0 = 1 / (2 * start.curvature);
  const x0 = -start.slope * c0;
  const outcome = solveLeastSquares({
    // ln C, so that it stays above 0; low point from the middle of the points.
    start: [Math.log(c0), x0, start.level - (x0 * x0) / (2 * c0)],
    residualCount: points.length,
    evaluateInto: (residuals, jacobian, [logC, low, z0]) => {
      const c = Math.exp(logC);
      for (let i = 0; i < points.length; i++) {
        const u = (points[i][0] - middle - low) / c;
        const sag = 2 * Math.sinh(u / 2) ** 2;
        residuals[i] = z0 + c * sag - points[i][1];
        jacobian?.set([c * (sag - u * Math.sinh(u)), -Math.sinh(u), 1], 3 * i);
      }
      return residuals.every(Number.isFinite);
    },
  });
  if (outcome.kind === 'refused') return { kind: 'refused', because: 'no convergence' };
  const [logC, low, lowZM] = outcome.parameters;
  return {
    kind: 'fitted',
    parameterM: Math.exp(logC),
    lowXM: middle + low,
    lowZM,
    rmsM: Math.sqrt(outcome.chiSquare / points.length),
  };
}

/** z = level + slope (x - middle) + curvature (x - middle)², by least squares; null where the points do not determine it. */
function parabola(points: readonly (readonly [number, number])[], middle: number) {
  const outcome = solveLeastSquares({
    start: [0, 0, 0],
    residualCount: points.length,
    evaluateInto: (residuals, jacobian, [level, slope, curvature]) => {
      points.forEach(([x, z], i) => {
        const d = x - middle;
        residuals[i] = level + slope * d + curvature * d * d - z;
        jacobian?.set([1, d, d * d], 3 * i);
      });
      return true;
    },
  });
  if (outcome.kind === 'refused') return null;
  const [level, slope, curvature] = outcome.parameters;
  return { level, slope, curvature };
}
