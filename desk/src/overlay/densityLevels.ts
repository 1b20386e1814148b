import { bandwidthPx } from '../../../src/report/photonDensity.ts';

/** Colour pixels of events on the processor: u, v by turns. */
export type ColourPoints = Float32Array | readonly number[];

/** The kernel by the report's own rule, so that desk and report draw the same lines. */
export const kernelFor = (points: ColourPoints, centre: readonly [number, number], overlaySigmaPx: number): number =>
  bandwidthPx(Array.from(points), centre, overlaySigmaPx);

/** Events that the density is tried at: the peak of a sum of kernels lies close to some of its events. */
const MOST_TRIED = 96;

/**
 * Levels to draw, events per square pixel, highest first: shares of the density's peak near the discharge, by the rule that
 * the report draws by. A level that one event reaches alone says nothing of a discharge and is left out.
 */
export function densityLevels(points: ColourPoints, centre: readonly [number, number], kernelPx: number): number[] {
  const n = points.length / 2;
  const lone = 1 / (2 * Math.PI * kernelPx * kernelPx);
  const near: number[] = [];
  for (let i = 0; i < n; i++)
    if (Math.hypot(points[2 * i]! - centre[0], points[2 * i + 1]! - centre[1]) < 12 * kernelPx) near.push(i);
  const step = Math.max(1, Math.floor(near.length / MOST_TRIED));
  const k = 0.5 / (kernelPx * kernelPx);
  let peak = 0;
  for (let a = 0; a < near.length; a += step) {
    const i = near[a]!;
    let sum = 0;
    for (const j of near)
      sum += Math.exp(-k * ((points[2 * i]! - points[2 * j]!) ** 2 + (points[2 * i + 1]! - points[2 * j + 1]!) ** 2));
    peak = Math.max(peak, sum * lone);
  }
  const levels = [0.8, 0.4, 0.1].map((share) => share * peak).filter((level) => level > 1.5 * lone);
  return levels.length > 0 ? levels : [0.5 * Math.max(peak, lone)];
}
