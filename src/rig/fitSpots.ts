import type { GreyFrame } from '../camera/GreyFrame.ts';
import { type LeastSquaresOutcome, solveLeastSquares } from '../maths/leastSquares.ts';
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
const WINDOW_PX = 6;
/**
 * How well the radius is known from the optics, as the standard deviation of its logarithm: for telling one lamp from two not at all; for
 * their places as well as focus keeps it; and all but held where the photons alone would make a spike of it.
 */
const UNKNOWN_RADIUS = 5;
const FOCUSED_RADIUS = 0.15;
const HELD_RADIUS = 0.05;
const REWEIGHINGS = 3;
/** Excess noise of the pulse heights, 1 + (relative standard deviation)², of an intensifier of ordinary quality. */
const EXCESS_NOISE = 1.4;

/**
 * Fits round Gaussians of one common radius by weighted least squares, with the variance of light that comes in spots
 * of random charge; saturated pixels count only where the model stays below the limit.
 * The position's variance is that of the fit as a linear filter of the image: noise of the sensor pixel by pixel, and the
 * lumps of the events, which neighbouring pixels share, at the places where the blur scatters them.
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
    fitted.push(...fittedLamps(frame, background, optics, cluster.slice(0, MOST_PEAKS)));
  }
  return fitted.sort((a, b) => b.chargeDn - a.chargeDn);
}

/** Lamps of one cluster, and peaks that are looked at for them, the brightest first. */
const MOST_TOGETHER = 6;
const MOST_PEAKS = 12;
/** Peaks nearer to a brighter one than this many radii may be lumps of one and the same lamp. */
const DOUBTFUL_RADII = 3.5;
/** A lamp more has to lower chi-square by this for its three parameters, in units of the noise as it hangs together. */
const LEAST_GAIN = 30;

/**
 * As many lamps as the image asks for: peaks that stand apart are lamps; a peak close to a brighter one, and a hill that the fit
 * leaves standing, become one where the fit is better by far more than noise would make it.
 */
function fittedLamps(
  frame: GreyFrame,
  background: LampBackground,
  optics: LampOptics,
  cluster: readonly SpotStart[],
): FittedSpot[] {
  const near = DOUBTFUL_RADII * Math.hypot(optics.spotSigmaPx, optics.blurSigmaPx);
  const sorted = [...cluster].sort((a, b) => b.sum - a.sum);
  const isDoubtful = (s: SpotStart): boolean =>
    sorted.some((o) => o.sum > s.sum && Math.hypot(o.x - s.x, o.y - s.y) < near);
  let lamps = sorted.filter((s) => !isDoubtful(s)).slice(0, MOST_TOGETHER);
  let fit = fitCluster(frame, background, optics, lamps, cluster);
  const tryWith = (more: SpotStart): boolean => {
    const next = fitCluster(frame, background, optics, [...lamps, more], cluster);
    if (!next || next.spots.length <= (fit?.spots.length ?? 0)) return false;
    // Noise that neighbours share counts as that many times stronger.
    const shared = Math.max(1, 2 * Math.PI * optics.spotSigmaPx ** 2);
    const gain = fit ? (fit.chiSquare - next.chiSquare) / Math.max(1, next.chiSquarePerPixel) / shared : Infinity;
    if (gain < LEAST_GAIN) return false;
    lamps = [...lamps, more];
    fit = next;
    return true;
  };
  for (const s of sorted) if (!lamps.includes(s) && lamps.length < MOST_TOGETHER) tryWith(s);
  // Less than a twelfth of the brightest is a lens's halo or the glow of an intensifier as well as a lamp.
  while (fit?.hill && fit.hill.sum > sorted[0].sum / 12 && lamps.length < MOST_TOGETHER && tryWith(fit.hill));
  return (fit && sharpened(frame, background, optics, lamps, cluster)?.spots) ?? fit?.spots ?? [];
}

/** The same lamps fitted with the variance that the fitted light itself has, which single photons do not mislead. */
function sharpened(
  frame: GreyFrame,
  background: LampBackground,
  optics: LampOptics,
  lamps: readonly SpotStart[],
  peaks: readonly SpotStart[],
): ClusterFit | null {
  const fit = fitCluster(frame, background, optics, lamps, peaks, REWEIGHINGS);
  return fit && fit.spots.length === lamps.length ? fit : null;
}

interface ClusterFit {
  readonly spots: FittedSpot[];
  readonly chiSquare: number;
  readonly chiSquarePerPixel: number;
  /** Where the most light is left over, if it is away from all lamps and no part of an overdriven one. */
  readonly hill: SpotStart | null;
}

/**
 * @param cluster the lamps to fit
 * @param peaks   what the window has to take in, lamps or not
 * @param reweighings rounds of weights from the light as fitted; without them from the image, the same for any number of lamps, so that
 *                chi-squares compare
 */
function fitCluster(
  frame: GreyFrame,
  background: LampBackground,
  optics: LampOptics,
  cluster: readonly SpotStart[],
  peaks: readonly SpotStart[],
  reweighings = 0,
): ClusterFit | null {
  const { widthPx, heightPx, data } = frame;
  const startRadius = Math.hypot(optics.spotSigmaPx, optics.blurSigmaPx);
  // An overdriven spot is wide: the window takes in its flanks, where the information is.
  const saturatedAt = (at: number): boolean => data[at] >= optics.saturationLevel;
  let reach = WINDOW_PX;
  for (const { x, y } of peaks) {
    let r = 0;
    while (r < 12 && x + r + 1 < widthPx && saturatedAt(y * widthPx + x + r)) r++;
    reach = Math.max(reach, r + WINDOW_PX);
  }
  const pixels: number[] = [];
  const x0 = Math.max(0, Math.min(...peaks.map((c) => c.x)) - reach);
  const x1 = Math.min(widthPx - 1, Math.max(...peaks.map((c) => c.x)) + reach);
  const y0 = Math.max(0, Math.min(...peaks.map((c) => c.y)) - reach);
  const y1 = Math.min(heightPx - 1, Math.max(...peaks.map((c) => c.y)) + reach);
  for (let y = y0; y <= y1; y++)
    for (let x = x0; x <= x1; x++)
      if (peaks.some((c) => Math.hypot(c.x - x, c.y - y) <= reach)) pixels.push(y * widthPx + x);
  // A fit that walks off its peak finds something else.
  const astrayPx = 2 * startRadius + reach - WINDOW_PX;
  const n = 3 * cluster.length + 2; // per spot x, y, peak height; common radius and level
  const signal = Float64Array.from(pixels, (at) => data[at] - background.levelDn[at]);
  // Charge fluctuates in lumps of one event, each spread over a spot: the variance of a pixel per unit of its signal.
  const perSignal = (EXCESS_NOISE * optics.meanChargeDn) / (4 * Math.PI * optics.spotSigmaPx ** 2);
  const inverseSigma = new Float64Array(pixels.length);
  const weighBy = (light: Float64Array): void => {
    for (let i = 0; i < pixels.length; i++)
      inverseSigma[i] = 1 / Math.sqrt(background.noiseDn ** 2 + perSignal * Math.max(0, light[i]));
  };
  weighBy(smoothed(frame, background, pixels));
  let radiusLogSigma = UNKNOWN_RADIUS;
  const start = [...cluster.flatMap((c) => [c.x, c.y, Math.max(1, (1.3 * c.sum) / 9)]), startRadius, 0];
  const evaluateInto = (residuals: Float64Array, jacobian: Float64Array | null, p: Float64Array): boolean => {
    const radius = p[n - 2];
    if (!(radius > 0.4 && radius < 8)) return false;
    // Beyond the window a lamp does nothing, and would wander off for ever.
    if (cluster.some((c, s) => Math.hypot(p[3 * s] - c.x, p[3 * s + 1] - c.y) > 2 * reach)) return false;
    jacobian?.fill(0);
    residuals[pixels.length] = Math.log(startRadius / radius) / radiusLogSigma;
    if (jacobian) jacobian[pixels.length * n + n - 2] = -1 / (radius * radiusLogSigma);
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
  };
  const lightOf = (p: ArrayLike<number>): Float64Array => {
    const k = 1 / (2 * p[n - 2] ** 2);
    return Float64Array.from(pixels, (at) => {
      const x = at % widthPx;
      const y = (at - x) / widthPx;
      let light = 0;
      for (let s = 0; s < cluster.length; s++)
        light += p[3 * s + 2] * Math.exp(-((x - p[3 * s]) ** 2 + (y - p[3 * s + 1]) ** 2) * k);
      return light;
    });
  };
  const solve = (from: ArrayLike<number>, logSigma: number): LeastSquaresOutcome => {
    radiusLogSigma = logSigma;
    return solveLeastSquares({ start: from, residualCount: pixels.length + 1, maxIterations: 40, evaluateInto });
  };
  // Few photons do not tell the radius: it is then the one of the optics.
  const free = solve(start, UNKNOWN_RADIUS);
  let outcome = free.kind === 'solved' ? free : solve(start, HELD_RADIUS);
  for (let round = 0; round < reweighings && outcome.kind === 'solved'; round++) {
    weighBy(lightOf(outcome.parameters));
    outcome = solve(outcome.parameters, FOCUSED_RADIUS);
  }
  if (outcome.kind === 'refused') return null;
  const { parameters, covariance } = outcome;
  const radiusPx = parameters[n - 2];
  const jacobian = new Float64Array(n * (pixels.length + 1));
  evaluateInto(new Float64Array(pixels.length + 1), jacobian, outcome.parameters);
  /** What one unit of signal in each pixel moves parameter k by. */
  const filterOf = (k: number): Float64Array =>
    Float64Array.from(pixels, (_, i) => {
      let sum = 0;
      for (let m = 0; m < n; m++) sum -= covariance.get(k, m) * jacobian[i * n + m];
      return sum * inverseSigma[i];
    });
  const lamps = cluster.map((_, s) => ({
    u: parameters[3 * s],
    v: parameters[3 * s + 1],
    chargeDn: Math.max(0, parameters[3 * s + 2] * 2 * Math.PI * radiusPx ** 2),
  }));
  const spots: FittedSpot[] = [];
  cluster.forEach((c, s) => {
    const { u, v, chargeDn } = lamps[s];
    if (!(chargeDn > 0) || Math.hypot(u - c.x, v - c.y) > astrayPx) return;
    let saturatedPx = 0;
    for (const at of pixels) {
      const x = at % widthPx;
      if (saturatedAt(at) && Math.hypot(x - u, (at - x) / widthPx - v) < reach) saturatedPx++;
    }
    const variance = [3 * s, 3 * s + 1].map((k) => {
      const filter = filterOf(k);
      const sensor = background.noiseDn ** 2 * filter.reduce((sum, a) => sum + a * a, 0);
      return lamps.reduce((sum, lamp) => sum + lumpVariance(filter, pixels, widthPx, lamp, optics), sensor);
    });
    spots.push({ u, v, sigmaPx: Math.sqrt((variance[0] + variance[1]) / 2), chargeDn, radiusPx, saturatedPx });
  });
  return {
    spots,
    chiSquare: outcome.chiSquare,
    chiSquarePerPixel: outcome.chiSquare / Math.max(1, pixels.length - n),
    hill: hillIn(outcome.residuals, inverseSigma, pixels, widthPx, lamps, radiusPx, saturatedAt),
  };
}

/** The highest 3 x 3 sum of what a fit leaves. */
function hillIn(
  residuals: Float64Array,
  inverseSigma: Float64Array,
  pixels: readonly number[],
  widthPx: number,
  lamps: readonly { readonly u: number; readonly v: number }[],
  radiusPx: number,
  saturatedAt: (at: number) => boolean,
): SpotStart | null {
  const left = new Map(pixels.map((at, i) => [at, residuals[i] / inverseSigma[i]]));
  let best: SpotStart | null = null;
  for (const at of pixels) {
    const x = at % widthPx;
    const y = (at - x) / widthPx;
    if (lamps.some(({ u, v }) => Math.hypot(u - x, v - y) < 1.5 * radiusPx)) continue;
    let sum = 0;
    let isWhole = true;
    for (let j = -1; j <= 1 && isWhole; j++)
      for (let i = -1; i <= 1; i++) {
        const value = left.get(at + j * widthPx + i);
        if (value === undefined || saturatedAt(at + j * widthPx + i)) {
          isWhole = false;
          break;
        }
        sum += value;
      }
    if (isWhole && sum > (best?.sum ?? 0)) best = { x, y, sum };
  }
  return best;
}

/**
 * Variance that the events of one lamp bring into a linear filter of the image: each event adds its charge times what the
 * filter makes of its spot, at a place that the blur scatters (shot noise of a filtered Poisson process).
 * Source: Campbell's theorem; Rice, Bell System Technical Journal 23 (1944) 282 (from memory).
 */
function lumpVariance(
  filter: Float64Array,
  pixels: readonly number[],
  widthPx: number,
  lamp: { readonly u: number; readonly v: number; readonly chargeDn: number },
  optics: LampOptics,
): number {
  const { spotSigmaPx, blurSigmaPx } = optics;
  let sum = 0;
  let weights = 0;
  for (let j = -4; j <= 4; j++)
    for (let i = -4; i <= 4; i++) {
      const [x, y] = [lamp.u + 0.6 * i * blurSigmaPx, lamp.v + 0.6 * j * blurSigmaPx];
      let effect = 0;
      pixels.forEach((at, k) => {
        if (filter[k] === 0) return;
        const px = at % widthPx;
        const r2 = (px - x) ** 2 + ((at - px) / widthPx - y) ** 2;
        if (r2 < 12 * spotSigmaPx * spotSigmaPx) effect += filter[k] * Math.exp(-r2 / (2 * spotSigmaPx * spotSigmaPx));
      });
      const weight = Math.exp(-0.18 * (i * i + j * j));
      sum += weight * (effect / (2 * Math.PI * spotSigmaPx * spotSigmaPx)) ** 2;
      weights += weight;
    }
  return (EXCESS_NOISE * optics.meanChargeDn * lamp.chargeDn * sum) / weights;
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
