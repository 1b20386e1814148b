import { solveLeastSquares } from '../maths/leastSquares.ts';
import { cauchy } from '../maths/robustLoss.ts';
import { cross, dot, norm, scale, subtract, unit, type Vec3 } from '../maths/vec3.ts';

export type StringRefinement =
  | {
      readonly kind: 'refined';
      readonly shiftTopM: Vec3;
      readonly shiftLowM: Vec3;
      readonly sigmaM: number;
      readonly points: number;
    }
  | { readonly kind: 'not refined'; readonly because: string };

const LEAST_POINTS = 15;
const WITHIN_M = 0.45;
const WORST_RMS_M = 0.2;

/**
 * The axis of an insulator string through the points about it: a robust straight line, each end free across the axis. Along it
 * nothing is found, as points do not tell the ends from cross-arm and clamp.
 */
export function refineString(points: readonly Vec3[], top: Vec3, low: Vec3): StringRefinement {
  const axis = subtract(low, top);
  const lengthM = norm(axis);
  if (!(lengthM > 0.3)) return { kind: 'not refined', because: 'a string without length' };
  const along = unit(axis);
  const one = unit(cross(along, Math.abs(along[2]) > 0.9 ? [1, 0, 0] : [0, 0, 1]));
  const two = cross(along, one);
  const near = points
    .map((p) => subtract(p, top))
    .map((d) => ({ t: dot(d, along) / lengthM, a: dot(d, one), b: dot(d, two) }))
    // The outer tenths belong to the hardware.
    .filter(({ t, a, b }) => t > 0.1 && t < 0.9 && Math.hypot(a, b) < WITHIN_M);
  if (near.length < LEAST_POINTS) return { kind: 'not refined', because: `${near.length} points about the string` };
  const sigma = 0.05;
  const outcome = solveLeastSquares({
    start: [0, 0, 0, 0],
    residualCount: 2 * near.length,
    groupSize: 2,
    loss: cauchy(2.5),
    evaluateInto: (residuals, jacobian, [a0, a1, b0, b1]) => {
      near.forEach(({ t, a, b }, i) => {
        residuals[2 * i] = ((1 - t) * a0 + t * a1 - a) / sigma;
        residuals[2 * i + 1] = ((1 - t) * b0 + t * b1 - b) / sigma;
        jacobian?.set([(1 - t) / sigma, t / sigma, 0, 0, 0, 0, (1 - t) / sigma, t / sigma], 8 * i);
      });
      return true;
    },
  });
  if (outcome.kind === 'refused') return { kind: 'not refined', because: 'points that do not determine an axis' };
  const [a0, a1, b0, b1] = outcome.parameters;
  const rmsM = sigma * Math.sqrt(outcome.chiSquare / (2 * near.length));
  if (rmsM > WORST_RMS_M) return { kind: 'not refined', because: `points ${rmsM.toFixed(2)} m off an axis` };
  const shift = (a: number, b: number): Vec3 => [
    scale(one, a)[0] + scale(two, b)[0],
    scale(one, a)[1] + scale(two, b)[1],
    scale(one, a)[2] + scale(two, b)[2],
  ];
  const variance = Math.max(...[0, 1, 2, 3].map((i) => outcome.covariance.get(i, i)));
  // Discs scatter points by their radius, in rows: counted as a third.
  return {
    kind: 'refined',
    shiftTopM: shift(a0, b0),
    shiftLowM: shift(a1, b1),
    sigmaM: Math.sqrt(3 * variance) * Math.max(1, rmsM / sigma),
    points: near.length,
  };
}
