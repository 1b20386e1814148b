import type { ScalarGrid } from './contourLines.ts';

/** Density of photon events over a picture, events per square pixel; node (i, j) is at (leftPx + i step, topPx + j step). */
export interface PhotonDensity extends ScalarGrid {
  readonly leftPx: number;
  readonly topPx: number;
  readonly stepPx: number;
}

/**
 * Sum of one normalised Gaussian an event (a kernel estimate with a fixed bandwidth), on a grid over the picture.
 * The kernel is cut at five bandwidths, where it is 4e-6 of its peak.
 * @param eventsPx u, v by turns
 */
export function photonDensity(
  eventsPx: readonly number[],
  window: { leftPx: number; topPx: number; widthPx: number; heightPx: number },
  bandwidthPx: number,
): PhotonDensity {
  if (!(bandwidthPx > 0)) throw new RangeError(`photonDensity: bandwidth ${bandwidthPx} px is not above zero`);
  // Three nodes a bandwidth keep the contours of a lone event round to 2 % of the bandwidth; a large crop with a
  // narrow kernel is held to a quarter of a million nodes.
  const stepPx = Math.max(bandwidthPx / 3, Math.sqrt((window.widthPx * window.heightPx) / 250_000));
  const columns = Math.max(2, Math.ceil(window.widthPx / stepPx) + 1);
  const rows = Math.max(2, Math.ceil(window.heightPx / stepPx) + 1);
  const values = new Float64Array(columns * rows);
  const peak = 1 / (2 * Math.PI * bandwidthPx * bandwidthPx);
  const k = 0.5 / (bandwidthPx * bandwidthPx);
  const reach = Math.ceil((5 * bandwidthPx) / stepPx);
  for (let e = 0; e + 1 < eventsPx.length; e += 2) {
    const i0 = (eventsPx[e]! - window.leftPx) / stepPx;
    const j0 = (eventsPx[e + 1]! - window.topPx) / stepPx;
    const iTo = Math.min(columns - 1, Math.floor(i0) + reach);
    const jTo = Math.min(rows - 1, Math.floor(j0) + reach);
    for (let j = Math.max(0, Math.ceil(j0) - reach); j <= jTo; j++)
      for (let i = Math.max(0, Math.ceil(i0) - reach); i <= iTo; i++) {
        const d2 = ((i - i0) ** 2 + (j - j0) ** 2) * stepPx * stepPx;
        values[j * columns + i]! += peak * Math.exp(-k * d2);
      }
  }
  return { columns, rows, values, leftPx: window.leftPx, topPx: window.topPx, stepPx };
}

/**
 * Kernel width for a spot seen through an uncertain overlay: the rule of thumb for two dimensions, spread times
 * n^(-1/6), widened by the overlay's own sigma, so that no line is drawn sharper than the overlay is known. The spread
 * is that of the events near the discharge, from their median distance (which a few background events do not move).
 * Source: Scott, Multivariate Density Estimation, 1992, sec. 6.3 (from memory).
 */
export function bandwidthPx(
  eventsPx: readonly number[],
  centrePx: readonly [number, number],
  overlaySigmaPx: number,
): number {
  // A strong source has a spot so narrow that its contours would merge into a blot and hide the hardware.
  const floorPx = 2;
  const distances: number[] = [];
  for (let e = 0; e + 1 < eventsPx.length; e += 2)
    distances.push(Math.hypot(eventsPx[e]! - centrePx[0], eventsPx[e + 1]! - centrePx[1]));
  const near = distances.filter((d) => d <= Math.max(25, 6 * overlaySigmaPx)).sort((a, b) => a - b);
  if (near.length === 0) return Math.hypot(floorPx, overlaySigmaPx);
  // The median radius of a round Gaussian is sigma times the root of 2 ln 2.
  const spreadPx = near[Math.floor(near.length / 2)]! / Math.sqrt(2 * Math.LN2);
  return Math.max(floorPx, Math.hypot(spreadPx * near.length ** (-1 / 6), overlaySigmaPx));
}

/**
 * Levels to draw: three shares of the peak, whose lines lie about evenly apart on a round spot. A level that a single
 * event reaches by itself says nothing of a discharge and is left out.
 */
export function contourLevels(density: PhotonDensity, kernelPx: number): number[] {
  let peak = 0;
  for (const value of density.values) if (value > peak) peak = value;
  if (peak === 0) return [];
  const loneEvent = 1 / (2 * Math.PI * kernelPx * kernelPx);
  const levels = [0.8, 0.4, 0.1].map((share) => share * peak).filter((level) => level > 1.5 * loneEvent);
  return levels.length > 0 ? levels : [0.5 * peak];
}
