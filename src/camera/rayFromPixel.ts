import type { Vec3 } from '../maths/vec3.ts';
import type { Lens } from './Lens.ts';
import type { Px } from './pixel.ts';
import { distort, distortionDerivative, foldRadiusSquared } from './projectPoint.ts';

/**
 * The undistorted image coordinates (x, y) = (X/Z, Y/Z) of a pixel: Newton's method on the distortion.
 * @returns null where no direction inside the fold of the lens has this pixel
 * Accuracy: 1e-12 in x and y, out to the fold.
 */
export function undistort([u, v]: Px, lens: Lens): readonly [number, number] | null {
  const xd = (u - lens.cxPx) / lens.fxPx;
  const yd = (v - lens.cyPx) / lens.fyPx;
  const fold = foldRadiusSquared(lens);
  let x = xd;
  let y = yd;
  // A start beyond the fold would descend to the wrong branch: begin inside it.
  const r2 = x * x + y * y;
  if (r2 >= fold) {
    const k = Math.sqrt((0.9 * fold) / r2);
    x *= k;
    y *= k;
  }
  for (let i = 0; i < 50; i++) {
    const [px, py] = distort(x, y, lens);
    const [a, b, c, d] = distortionDerivative(x, y, lens);
    const det = a * d - b * c;
    if (!(det > 0)) return null;
    const ex = px - xd;
    const ey = py - yd;
    const dx = (d * ex - b * ey) / det;
    const dy = (a * ey - c * ex) / det;
    x -= dx;
    y -= dy;
    if (Math.abs(dx) + Math.abs(dy) < 1e-14) break;
  }
  const [px, py] = distort(x, y, lens);
  const missed = Math.abs(px - xd) + Math.abs(py - yd) > 1e-10;
  return missed || x * x + y * y >= fold ? null : [x, y];
}

/** The direction [x, y, 1] / length in the camera frame that a pixel looks along; null as for `undistort`. */
export function rayFromPixel(px: Px, lens: Lens): Vec3 | null {
  const xy = undistort(px, lens);
  if (!xy) return null;
  const k = 1 / Math.hypot(xy[0], xy[1], 1);
  return [xy[0] * k, xy[1] * k, k];
}
