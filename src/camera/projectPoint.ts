import type { Vec3 } from '../maths/vec3.ts';
import type { Lens } from './Lens.ts';
import type { Px } from './pixel.ts';

/** The distorted image, in units of the focal length, of the undistorted direction (x, y, 1). */
export function distort(x: number, y: number, lens: Lens): [number, number] {
  const r2 = x * x + y * y;
  const radial = 1 + r2 * (lens.k1 + r2 * (lens.k2 + r2 * lens.k3));
  return [
    x * radial + 2 * lens.p1 * x * y + lens.p2 * (r2 + 2 * x * x),
    y * radial + lens.p1 * (r2 + 2 * y * y) + 2 * lens.p2 * x * y,
  ];
}

/**
 * Where the camera sees a point.
 * @param pointCamM [x, y, z] in the camera frame, any one unit of length
 * @returns         [u, v] in pixels, also outside the image; null behind the camera (z <= 0 or NaN) and beyond the
 *                  fold of the distortion, where a second direction would have the same pixel
 * Accuracy: rounding only. Source: Lens.ts.
 */
export function projectPoint([X, Y, Z]: Vec3, lens: Lens): Px | null {
  if (!(Z > 0)) return null;
  const x = X / Z;
  const y = Y / Z;
  if (x * x + y * y >= foldRadiusSquared(lens)) return null;
  const [xd, yd] = distort(x, y, lens);
  return [lens.fxPx * xd + lens.cxPx, lens.fyPx * yd + lens.cyPx];
}

/** As projectPoint, with the derivatives of u and v by the point (row u: 0-2, row v: 3-5). */
export function projectWithDerivative(
  [X, Y, Z]: Vec3,
  lens: Lens,
): { px: Px; byPoint: readonly [number, number, number, number, number, number] } | null {
  const px = projectPoint([X, Y, Z], lens);
  if (!px) return null;
  const iz = 1 / Z;
  const x = X * iz;
  const y = Y * iz;
  const [a, b, c, d] = distortionDerivative(x, y, lens);
  return {
    px,
    byPoint: [
      lens.fxPx * a * iz,
      lens.fxPx * b * iz,
      -lens.fxPx * (a * x + b * y) * iz,
      lens.fyPx * c * iz,
      lens.fyPx * d * iz,
      -lens.fyPx * (c * x + d * y) * iz,
    ],
  };
}

/** [dx"/dx, dx"/dy, dy"/dx, dy"/dy] of `distort`. */
export function distortionDerivative(x: number, y: number, lens: Lens): [number, number, number, number] {
  const r2 = x * x + y * y;
  const radial = 1 + r2 * (lens.k1 + r2 * (lens.k2 + r2 * lens.k3));
  const slope = 2 * (lens.k1 + r2 * (2 * lens.k2 + r2 * 3 * lens.k3)); // d radial / d x = slope · x
  const cross = x * y * slope + 2 * lens.p1 * x + 2 * lens.p2 * y;
  return [
    radial + x * x * slope + 2 * lens.p1 * y + 6 * lens.p2 * x,
    cross,
    cross,
    radial + y * y * slope + 6 * lens.p1 * y + 2 * lens.p2 * x,
  ];
}

/**
 * The squared radius at which r (1 + k1 r² + k2 r⁴ + k3 r⁶) stops rising: beyond it the picture folds back on itself.
 * Infinity where it never does. Smallest positive root of 1 + 3 k1 s + 5 k2 s² + 7 k3 s³.
 */
export function foldRadiusSquared(lens: Lens): number {
  let fold = foldOfLens.get(lens);
  if (fold === undefined) {
    fold = findFold(lens);
    foldOfLens.set(lens, fold);
  }
  return fold;
}

// A lens never changes, and the fold is asked for at every projection.
const foldOfLens = new WeakMap<Lens, number>();

function findFold(lens: Lens): number {
  const rise = (s: number): number => 1 + s * (3 * lens.k1 + s * (5 * lens.k2 + s * 7 * lens.k3));
  if (lens.k1 >= 0 && lens.k2 >= 0 && lens.k3 >= 0) return Number.POSITIVE_INFINITY;
  // A scan to a half-angle of 72 degrees (s = 9.5) in steps finer than any root pair of a real lens, then bisection.
  let low = 0;
  for (let s = 0.02; s <= 9.5; s += 0.02) {
    if (rise(s) <= 0) {
      let high = s;
      for (let i = 0; i < 60; i++) {
        const middle = (low + high) / 2;
        if (rise(middle) > 0) low = middle;
        else high = middle;
      }
      return low;
    }
    low = s;
  }
  return Number.POSITIVE_INFINITY;
}
