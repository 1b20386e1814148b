import type { Random } from '../maths/random.ts';

/**
 * A camera that sees a point of light less well near the rim of its picture, and better on one side: shading by the lens about a
 * middle of its own, and a photocathode worn on one side. On purpose not of a form that the measuring side would fit exactly.
 */
export interface Unevenness {
  readonly middlePx: readonly [number, number];
  /** Where the shading has come down to a quarter. */
  readonly radiusPx: number;
  /** Direction towards the worn side, and by how much it is down there at the far end. */
  readonly wornTowardsRad: number;
  readonly wornShare: number;
  readonly widthPx: number;
  readonly heightPx: number;
}

export function inventUnevenness(
  random: Random,
  { widthPx, heightPx }: { readonly widthPx: number; readonly heightPx: number },
): Unevenness {
  return {
    middlePx: [widthPx * (0.45 + 0.1 * random.uniform()), heightPx * (0.45 + 0.1 * random.uniform())],
    radiusPx: widthPx * (0.9 + 0.3 * random.uniform()),
    wornTowardsRad: 2 * Math.PI * random.uniform(),
    wornShare: 0.1 + 0.15 * random.uniform(),
    widthPx,
    heightPx,
  };
}

function shape(of: Unevenness, uPx: number, vPx: number): number {
  const radius = Math.hypot(uPx - of.middlePx[0], vPx - of.middlePx[1]) / of.radiusPx;
  const half = of.widthPx / 2;
  const towards =
    (Math.cos(of.wornTowardsRad) * (uPx - of.middlePx[0]) + Math.sin(of.wornTowardsRad) * (vPx - of.middlePx[1])) /
    half;
  return (1 + radius * radius) ** -2 * (1 - of.wornShare * (0.5 + 0.5 * Math.tanh(1.5 * towards)));
}

/** The response to a point of light at a pixel, 1 in the mean over the picture; of an even camera 1 everywhere. */
export function pointResponse(of: Unevenness | null): (uPx: number, vPx: number) => number {
  if (!of) return () => 1;
  const steps = 64;
  let sum = 0;
  for (let j = 0; j < steps; j++)
    for (let i = 0; i < steps; i++)
      sum += shape(of, ((i + 0.5) / steps) * of.widthPx - 0.5, ((j + 0.5) / steps) * of.heightPx - 0.5);
  const mean = sum / (steps * steps);
  return (uPx, vPx) => shape(of, uPx, vPx) / mean;
}

/** Above any response of `pointResponse`: what a rejection may divide by. */
export const HIGHEST_RESPONSE = 2;
