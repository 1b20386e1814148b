import type { SeenMark } from '../BenchObservations.ts';
import { type GreyImage, greyAt } from './GreyImage.ts';

const MOST_STEPS = 40;
const ENOUGH_PX = 0.003;
/** What sampling and compression leave, however clean the picture. */
const FLOOR_PX = 0.02;

/**
 * A corner to a small part of a pixel: the point that every gradient around it is square to.
 * @param half half the side of the window, px; it must not reach the next corner
 * @returns    null where the window leaves the picture, holds no corner, or the point walks off by more than `half`
 * Source: Förstner & Gülch, ISPRS Intercommission Workshop, Interlaken 1987, 281 (from memory).
 */
export function refineCorner(image: GreyImage, x: number, y: number, half: number): SeenMark | null {
  const side = 2 * half + 1;
  const patch = new Float64Array((side + 2) * (side + 2));
  const weights = Float64Array.from({ length: side }, (_, i) => Math.exp(-(((i - half) / half) ** 2)));
  let [cx, cy] = [x, y];
  for (let step = 0; ; step++) {
    if (cx < half + 1 || cy < half + 1 || cx > image.widthPx - half - 2 || cy > image.heightPx - half - 2) return null;
    for (let j = 0; j < side + 2; j++)
      for (let i = 0; i < side + 2; i++)
        patch[j * (side + 2) + i] = greyAt(image, cx + i - half - 1, cy + j - half - 1);
    let [xx, xy, yy, bx, by] = [0, 0, 0, 0, 0];
    for (let j = 0; j < side; j++)
      for (let i = 0; i < side; i++) {
        const at = (j + 1) * (side + 2) + i + 1;
        const gx = patch[at + 1] - patch[at - 1];
        const gy = patch[at + side + 2] - patch[at - side - 2];
        const w = weights[i] * weights[j];
        const along = gx * (i - half) + gy * (j - half);
        xx += w * gx * gx;
        xy += w * gx * gy;
        yy += w * gy * gy;
        bx += w * gx * along;
        by += w * gy * along;
      }
    const det = xx * yy - xy * xy;
    if (!(det > 1e-4 * (xx + yy) ** 2)) return null;
    const dx = (yy * bx - xy * by) / det;
    const dy = (xx * by - xy * bx) / det;
    cx += dx;
    cy += dy;
    if (!(Math.hypot(cx - x, cy - y) <= half)) return null;
    if (Math.hypot(dx, dy) > ENOUGH_PX && step < MOST_STEPS) continue;
    return { u: cx, v: cy, sigmaPx: Math.hypot(FLOOR_PX, spread(patch, side, half, weights, xx, xy, yy)) };
  }
}

/** Standard deviation of a coordinate from how far the gradients miss the point, as if pixels erred independently. */
function spread(
  patch: Float64Array,
  side: number,
  half: number,
  weights: Float64Array,
  xx: number,
  xy: number,
  yy: number,
): number {
  let misses = 0;
  let mass = 0;
  let [cxx, cyy, cxy] = [0, 0, 0];
  for (let j = 0; j < side; j++)
    for (let i = 0; i < side; i++) {
      const at = (j + 1) * (side + 2) + i + 1;
      const gx = patch[at + 1] - patch[at - 1];
      const gy = patch[at + side + 2] - patch[at - side - 2];
      const w = weights[i] * weights[j];
      misses += w * (gx * (i - half) + gy * (j - half)) ** 2;
      mass += w;
      cxx += w * w * gx * gx;
      cxy += w * w * gx * gy;
      cyy += w * w * gy * gy;
    }
  const variance = misses / mass;
  const det = xx * yy - xy * xy;
  const varX = (yy * yy * cxx - 2 * xy * yy * cxy + xy * xy * cyy) / det ** 2;
  const varY = (xx * xx * cyy - 2 * xy * xx * cxy + xy * xy * cxx) / det ** 2;
  return Math.sqrt((variance * (varX + varY)) / 2);
}
