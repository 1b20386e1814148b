import { randomFrom } from '../../maths/random.ts';
import type { GreyImage } from './GreyImage.ts';

/**
 * A flat target drawn 8 x 8 to the pixel (over two pixels: the pixel, and a lens blur of as much) through a homography from
 * the target to pixels, with noise of 2 grey levels.
 * @param levelAt grey level at a place of the target
 */
export function drawnPattern(
  h: readonly [number, number, number, number, number, number, number, number, number],
  seed: number,
  levelAt: (x: number, y: number) => number,
  [widthPx, heightPx]: readonly [number, number] = [320, 240],
): GreyImage {
  const random = randomFrom(seed);
  const [a, b, c, d, e, f, g, k] = h;
  const grey = new Uint8Array(widthPx * heightPx);
  for (let v = 0; v < heightPx; v++)
    for (let u = 0; u < widthPx; u++) {
      let sum = 0;
      for (let j = 0; j < 8; j++)
        for (let i = 0; i < 8; i++) {
          const [pu, pv] = [u + (i - 3.5) / 4, v + (j - 3.5) / 4];
          // The inverse of the homography by Cramer's rule, point by point.
          const [p, q, r, s] = [a - g * pu, b - k * pu, d - g * pv, e - k * pv];
          const det = p * s - q * r;
          sum += levelAt(((pu - c) * s - (pv - f) * q) / det, ((pv - f) * p - (pu - c) * r) / det);
        }
      grey[v * widthPx + u] = Math.max(0, Math.min(255, Math.round(sum / 64 + 2 * random.normal())));
    }
  return { widthPx, heightPx, grey };
}
