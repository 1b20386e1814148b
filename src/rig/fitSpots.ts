import type { GreyFrame } from '../camera/GreyFrame.ts';
import { solveLeastSquares } from '../maths/leastSquares.ts';
import type { LampBackground, LampOptics } from './findLamps.ts';

export interface SpotStart {
  readonly x: number;
  readonly y: number;
  readonly sum: number;
}

export interface FittedSpot {
  readonly u: number;
  readonly v: number;
  /** Standard deviation of u and of v. */
  readonly sigmaPx: number;
  readonly chargeDn: number;
  readonly radiusPx: number;
  /** Pixels at the limit of the sensor; their true height is not known, only that it is above. */
  readonly saturatedPx: number;
}

/** Spots nearer than this share their tails and are fitted together, px. */
const TOGETHER_PX = 9;
const WINDOW_PX = 5;
/** Excess noise of the pulse heights, 1 + (relative standard deviation)², of an intensifier of ordinary quality. */
const EXCESS_NOISE = 1.4;

/**
 * Fits round Gaussians of one common radius by weighted least squares, with the variance of light that comes in spots
 * of random charge; saturated pixels count only where the model stays below the limit.
 * The position's variance is that of the fit for the noise of the sensor, plus that of the scattered events:
 * (blur² excess / events), events = charge / mean charge of one.
 * Source: Mortensen, Churchman, Spudich & Flyvbjerg, Nature Methods 7 (2010) 377 for the limit it is compared with.
 */
export function fitSpots(
  frame: GreyFrame,
  background: LampBackground,
  optics: LampOptics,
  starts: readonly SpotStart[],
): FittedSpot[] {
  const left = new Set(starts);
  const fitted: FittedSpot[] = [];
  for (const first of starts) {
    if (!left.has(first)) continue;
    const cluster: SpotStart[] = [first];
    left.delete(first);
    for (let i = 0; i < cluster.length; i++)
      for (const other of left)
        if (Math.hypot(other.x - cluster[i].x, other.y - cluster[i].y) < TOGETHER_PX) {
          cluster.push(other);
          left.delete(other);
        }
    if (cluster.length <= 6) fitted.push(...fitCluster(frame, background, optics, cluster));
  }
  return fitted.sort((a, b) => b.chargeDn - a.chargeDn);
}

function fitCluster(
  frame: GreyFrame,
  background: LampBackground,
  optics: LampOptics,
  cluster: readonly SpotStart[],
): FittedSpot[] {
  const { widthPx, heightPx, data } = frame;
  const startRadius = Math.hypot(optics.spotSigmaPx, optics.blurSigmaPx);
  // An overdriven spot is wide: the window takes in its flanks, where the information is.
  const saturatedAt = (at: number): boolean => data[at] >= optics.saturationLevel;
  let reach = WINDOW_PX;
  for (const { x, y } of cluster) {
    let r = 0;
    while (r < 12 && x + r + 1 < widthPx && saturatedAt(y * widthPx + x + r)) r++;
    reach = Math.max(reach, r + WINDOW_PX);
  }
  const pixels: number[] = [];
  const x0 = Math.max(0, Math.min(...cluster.map((c) => c.x)) - reach);
  const x1 = Math.min(widthPx - 1, Math.max(...cluster.map((c) => c.x)) + reach);
  const y0 = Math.max(0, Math.min(...cluster.map((c) => c.y)) - reach);
  const y1 = Math.min(heightPx - 1, Math.max(...cluster.map((c) => c.y)) + reach);
  for (let y = y0; y <= y1; y++)
    for (let x = x0; x <= x1; x++)
      if (cluster.some((c) => Math.hypot(c.x - x, c.y - y) <= reach)) pixels.push(y * widthPx + x);
  const n = 3 * cluster.length + 2; // per spot x, y, peak height; common radius and level
  const signal = Float64Array.from(pixels, (at) => data[at] - background.levelDn[at]);
  // Charge fluctuates in lumps of one event, each spread over a spot: the variance of a pixel per unit of its signal.
  const perSignal = (EXCESS_NOISE * optics.meanChargeDn) / (4 * Math.PI * optics.spotSigmaPx ** 2);
  const smooth = smoothed(frame, background, pixels);
  const inverseSigma = Float64Array.from(
    smooth,
    (s) => 1 / Math.sqrt(background.noiseDn ** 2 + perSignal * Math.max(0, s)),
  );
  const start = [...cluster.flatMap((c) => [c.x, c.y, Math.max(1, (1.3 * c.sum) / 9)]), startRadius, 0];
  const outcome = solveLeastSquares({
    start,
    residualCount: pixels.length,
    maxIterations: 40,
    evaluateInto(residuals, jacobian, p) {
      const radius = p[n - 2];
      if (!(radius > 0.4 && radius < 8)) return false;
      jacobian?.fill(0);
      const k = 1 / (2 * radius * radius);
      for (let i = 0; i < pixels.length; i++) {
        const x = pixels[i] % widthPx;
        const y = (pixels[i] - x) / widthPx;
        const w = inverseSigma[i];
        let model = p[n - 1];
        const row = i * n;
        for (let s = 0; s < cluster.length; s++) {
          const dx = x - p[3 * s];
          const dy = y - p[3 * s + 1];
          const r2 = dx * dx + dy * dy;
          const shape = Math.exp(-r2 * k);
          const value = p[3 * s + 2] * shape;
          model += value;
          if (!jacobian) continue;
          jacobian[row + 3 * s] = -value * 2 * k * dx * w;
          jacobian[row + 3 * s + 1] = -value * 2 * k * dy * w;
          jacobian[row + 3 * s + 2] = -shape * w;
          jacobian[row + n - 2] -= ((value * r2) / radius ** 3) * w;
        }
        if (jacobian) jacobian[row + n - 1] = -w;
        if (saturatedAt(pixels[i]) && model >= signal[i]) {
          residuals[i] = 0;
          jacobian?.fill(0, row, row + n);
        } else residuals[i] = (signal[i] - model) * w;
      }
      return true;
    },
  });
  if (outcome.kind === 'refused') return [];
  const radiusPx = outcome.parameters[n - 2];
  const spots: FittedSpot[] = [];
  cluster.forEach((c, s) => {
    const u = outcome.parameters[3 * s];
    const v = outcome.parameters[3 * s + 1];
    const chargeDn = outcome.parameters[3 * s + 2] * 2 * Math.PI * radiusPx ** 2;
    // A fit that walked off its peak has found something else.
    if (!(chargeDn > 0) || Math.hypot(u - c.x, v - c.y) > 2 + reach - WINDOW_PX) return;
    const sensor = (outcome.covariance.get(3 * s, 3 * s) + outcome.covariance.get(3 * s + 1, 3 * s + 1)) / 2;
    const scatter = (optics.blurSigmaPx ** 2 * EXCESS_NOISE * optics.meanChargeDn) / chargeDn;
    let saturatedPx = 0;
    for (const at of pixels) {
      const x = at % widthPx;
      if (saturatedAt(at) && Math.hypot(x - u, (at - x) / widthPx - v) < reach) saturatedPx++;
    }
    spots.push({ u, v, sigmaPx: Math.sqrt(sensor + scatter), chargeDn, radiusPx, saturatedPx });
  });
  return spots;
}

/** The signal averaged over 3 x 3 pixels: weights taken from single pixels would favour those that came out low. */
function smoothed(frame: GreyFrame, background: LampBackground, pixels: readonly number[]): Float64Array {
  const { widthPx, heightPx, data } = frame;
  return Float64Array.from(pixels, (at) => {
    const x = at % widthPx;
    const y = (at - x) / widthPx;
    let sum = 0;
    let count = 0;
    for (let j = Math.max(0, y - 1); j <= Math.min(heightPx - 1, y + 1); j++)
      for (let i = Math.max(0, x - 1); i <= Math.min(widthPx - 1, x + 1); i++) {
        sum += data[j * widthPx + i] - background.levelDn[j * widthPx + i];
        count++;
      }
    return sum / count;
  });
}
