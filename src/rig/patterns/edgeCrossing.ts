import { type GreyImage, greyAt } from './GreyImage.ts';

const LEAST_CONTRAST = 15;

/**
 * Where an edge lies along a short line across it: the place at which the grey is half-way between its two sides. Blur
 * does not move it, nor does the shading of either side.
 * @param x, y   about where the edge is, px
 * @param nx, ny unit vector across it
 * @param reach  half the length of the line, px; both its ends must lie in the plain surface of their side
 * @returns      distance from (x, y) along the vector; null where there is no single edge
 */
export function edgeCrossing(
  image: GreyImage,
  x: number,
  y: number,
  nx: number,
  ny: number,
  reach: number,
): number | null {
  const steps = Math.max(6, Math.round(reach / 0.5));
  const step = reach / steps;
  const at = (k: number): number => greyAt(image, x + nx * step * k, y + ny * step * k);
  const profile = Float64Array.from({ length: 2 * steps + 1 }, (_, i) => at(i - steps));
  const near = (profile[0] + profile[1]) / 2;
  const far = (profile[2 * steps] + profile[2 * steps - 1]) / 2;
  if (Math.abs(far - near) < LEAST_CONTRAST) return null;
  const half = (near + far) / 2;
  let crossing: number | null = null;
  for (let i = 0; i < 2 * steps; i++) {
    const [a, b] = [profile[i] - half, profile[i + 1] - half];
    if (a * b > 0 || a === b) continue;
    if (a === 0 && i > 0) continue; // counted at the step before
    if (crossing !== null) return null;
    crossing = (i - steps + a / (a - b)) * step;
  }
  return crossing;
}
