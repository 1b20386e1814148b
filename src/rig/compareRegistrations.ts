import { Matrix } from 'ml-matrix';
import { uvPx } from '../camera/pixel.ts';
import { chiSquareTail } from '../maths/distributions.ts';
import { invertSymmetric } from '../maths/leastSquares.ts';
import { colourFromUv, colourPxFromUv, mappingByParameters } from './colourFromUv.ts';
import { type Registration, TWO_CAMERA_PARAMETER_COUNT } from './Registration.ts';
import { supportAt } from './support.ts';

export interface MovedAt {
  /** Infinity for a source at infinity. */
  readonly rangeM: number;
  /** Of the mapped colour pixel, now minus then, over the region that both support: two-dimensional. */
  readonly rmsPx: number;
  readonly worstPx: number;
  /** What the errors of both registrations alone would make of it, root mean square. */
  readonly expectedRmsPx: number;
}

export interface RegistrationComparison {
  readonly kind: 'compared';
  readonly at: readonly MovedAt[];
  /** Squared change over the covariances of both, at three places of the image at 40 m and one at 15 m. */
  readonly chiSquare: number;
  readonly degreesOfFreedom: number;
  /** Probability of so great a change where nothing has moved. */
  readonly pValue: number;
  readonly moved: boolean;
}
export type ComparisonOutcome =
  | RegistrationComparison
  | { readonly kind: 'refused'; readonly because: 'no region that both support' | 'images of another size' };

/** One in a thousand: a rig is not called moved for less. */
const MOVED_BELOW = 0.001;
const RANGES_M = [15, 40, Number.POSITIVE_INFINITY];

/**
 * Whether a rig has moved between two bench runs, in what it is for: the mapping. The change at three places of the common
 * region, far apart, and of the parallax is set against the sum of both covariances; parameters that trade against each
 * other without showing in the overlay do not count. What both runs share (rig.json, the same target) is counted twice in that
 * sum: the test errs on the side of calm.
 */
export function compareRegistrations(now: Registration, last: Registration): ComparisonOutcome {
  const { widthPx, heightPx } = now.model.uv;
  if (last.model.uv.widthPx !== widthPx || last.model.uv.heightPx !== heightPx)
    return { kind: 'refused', because: 'images of another size' };
  const common: [number, number][] = [];
  const inside = (r: Registration, u: number, v: number): boolean =>
    supportAt(r.support, u, v, 1 / r.support.nearestM) === 'supported';
  const step = Math.max(8, Math.round(widthPx / 40));
  for (let v = 0; v < heightPx; v += step)
    for (let u = 0; u < widthPx; u += step) if (inside(now, u, v) && inside(last, u, v)) common.push([u, v]);
  if (common.length < 20) return { kind: 'refused', because: 'no region that both support' };
  const at = RANGES_M.map((rangeM): MovedAt => {
    let squares = 0;
    let expected = 0;
    let worst = 0;
    let n = 0;
    for (const [u, v] of common) {
      const change = changeAt(now, last, u, v, 1 / rangeM);
      if (!change) continue;
      const square = change.du ** 2 + change.dv ** 2;
      squares += square;
      expected += change.uu + change.vv;
      worst = Math.max(worst, square);
      n++;
    }
    return {
      rangeM,
      rmsPx: Math.sqrt(squares / n),
      worstPx: Math.sqrt(worst),
      expectedRmsPx: Math.sqrt(expected / n),
    };
  });
  const { chiSquare, degreesOfFreedom } = jointChange(now, last, farApart(common));
  // Far out the tail is smaller than any number, and the library says so by an error.
  const pValue = chiSquare > 1000 ? 0 : chiSquareTail(chiSquare, degreesOfFreedom);
  return { kind: 'compared', at, chiSquare, degreesOfFreedom, pValue, moved: pValue < MOVED_BELOW };
}

function changeAt(
  now: Registration,
  last: Registration,
  u: number,
  v: number,
  inverseRangePerM: number,
): { du: number; dv: number; uu: number; vv: number } | null {
  const a = colourFromUv(now, uvPx(u, v), inverseRangePerM);
  const b = colourFromUv(last, uvPx(u, v), inverseRangePerM);
  if (a.kind === 'refused' || b.kind === 'refused') return null;
  return {
    du: a.px[0] - b.px[0],
    dv: a.px[1] - b.px[1],
    uu: a.covariancePx2[0] + b.covariancePx2[0],
    vv: a.covariancePx2[3] + b.covariancePx2[3],
  };
}

/** The three corners of the widest triangle that the points have, and the point nearest to their middle. */
function farApart(points: readonly (readonly [number, number])[]): (readonly [number, number])[] {
  const most = (score: (p: readonly [number, number]) => number): readonly [number, number] =>
    points.reduce((a, b) => (score(b) > score(a) ? b : a));
  const a = most(([u, v]) => -u - v);
  const b = most(([u, v]) => Math.hypot(u - a[0], v - a[1]));
  const c = most(([u, v]) => Math.abs((b[0] - a[0]) * (v - a[1]) - (b[1] - a[1]) * (u - a[0])));
  const middle = [(a[0] + b[0] + c[0]) / 3, (a[1] + b[1] + c[1]) / 3];
  return [a, b, c, most(([u, v]) => -Math.hypot(u - middle[0], v - middle[1]))];
}

function jointChange(
  now: Registration,
  last: Registration,
  [a, b, c, middle]: readonly (readonly [number, number])[],
): { chiSquare: number; degreesOfFreedom: number } {
  const change: number[] = [];
  const rows: [Float64Array, Float64Array][] = [];
  for (const [[u, v], rangeM] of [
    [a, 40],
    [b, 40],
    [c, 40],
    [middle, 15],
  ] as const) {
    const [p, q] = [now, last].map((r) => colourPxFromUv(r.model, u, v, 1 / rangeM));
    const [jp, jq] = [now, last].map((r) => mappingByParameters(r.model, u, v, 1 / rangeM));
    if (!p || !q || !jp || !jq) continue;
    const n = TWO_CAMERA_PARAMETER_COUNT;
    for (const axis of [0, 1] as const) {
      change.push(p[axis] - q[axis]);
      rows.push([jp.subarray(axis * n, (axis + 1) * n), jq.subarray(axis * n, (axis + 1) * n)]);
    }
  }
  const covariance = new Matrix(change.length, change.length);
  for (let i = 0; i < change.length; i++)
    for (let k = 0; k < change.length; k++)
      covariance.set(
        i,
        k,
        product(rows[i][0], now.covariance, rows[k][0]) + product(rows[i][1], last.covariance, rows[k][1]),
      );
  const inverse = invertSymmetric(covariance);
  if (!inverse) return { chiSquare: 0, degreesOfFreedom: 1 };
  let chiSquare = 0;
  for (let i = 0; i < change.length; i++)
    for (let k = 0; k < change.length; k++) chiSquare += change[i] * inverse.get(i, k) * change[k];
  return { chiSquare, degreesOfFreedom: change.length };
}

function product(a: Float64Array, m: Float64Array, b: Float64Array): number {
  const n = TWO_CAMERA_PARAMETER_COUNT;
  let sum = 0;
  for (let i = 0; i < n; i++) for (let k = 0; k < n; k++) sum += a[i] * m[i * n + k] * b[k];
  return sum;
}
