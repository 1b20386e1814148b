import { chiSquareTail, logGamma, normalCdf, poissonTail } from '../../maths/distributions.ts';

/** The pulse heights of single photon events at one gain, as a gamma law: its mean, and how broad it is. */
export type ChargeLaw =
  | {
      readonly kind: 'fitted';
      readonly meanDn: number;
      readonly meanSigmaDn: number;
      /** Standard deviation over mean. */
      readonly spread: number;
      readonly spreadSigma: number;
      /** Share of events with a charge below the cut, by the law: they are not all found. */
      readonly shareBelowCut: number;
      readonly shareBelowCutSigma: number;
      /** Events between the cut and the top, which the fit rests on. */
      readonly count: number;
      /** Chance of a worse fit if the law is a gamma law, from Pearson's chi-square. */
      readonly goodness: number;
    }
  | { readonly kind: 'refused'; readonly because: 'too few events' | 'charge drowns in the noise' };

const FEWEST = 150;
const BINS = 36;
const STEPS = 480;
/** Charges beyond this quantile are left out: what overlaps another event is no single one. */
const TOP_QUANTILE = 0.995;
/** Where more of the law than this lies below the cut, its mean is a matter of belief. */
const MOST_BELOW_CUT = 0.6;

/**
 * Maximum likelihood of a gamma law with Gaussian measuring noise, from the charges above a cut alone, in bins.
 * Only the part that is found in full is used, so that the mean is the one of all events and not of those that stand out.
 * @param charges  of events that are single, any order, DN
 * @param of.cutDn   above it (nearly) every event is found
 * @param of.topDn   below it no event reaches the sensor's limit
 * @param of.noiseDn standard deviation of a measured charge by read noise
 * Sources: gamma law of the pulse heights of channel plates (common practice, no source); scoring with Fisher's information: Kendall &
 * Stuart, The Advanced Theory of Statistics, vol. 2, ch. 18 (from memory).
 */
export function fitChargeLaw(
  charges: ArrayLike<number>,
  of: { readonly cutDn: number; readonly topDn: number; readonly noiseDn: number },
): ChargeLaw {
  const { cutDn, noiseDn } = of;
  const above = Array.from(charges)
    .filter((q) => q > cutDn)
    .sort((a, b) => a - b);
  if (above.length < FEWEST) return { kind: 'refused', because: 'too few events' };
  const topDn = Math.min(of.topDn, above[Math.floor(TOP_QUANTILE * (above.length - 1))]);
  if (!(topDn > 1.5 * cutDn)) return { kind: 'refused', because: 'charge drowns in the noise' };
  const edges = Float64Array.from({ length: BINS + 1 }, (_, i) => cutDn * (topDn / cutDn) ** (i / BINS));
  const counts = new Float64Array(BINS);
  let bin = 0;
  let count = 0;
  for (const q of above) {
    if (q > topDn) break;
    while (bin < BINS - 1 && q > edges[bin + 1]) bin++;
    counts[bin]++;
    count++;
  }
  const shares = binShares(edges, noiseDn, topDn);
  const start = above.reduce((sum, q) => sum + q, 0) / above.length;
  const fit = mostLikely(counts, count, shares, [Math.log(start), Math.log(2.5)]);
  if (!fit) return { kind: 'refused', because: 'charge drowns in the noise' };
  const meanDn = Math.exp(fit.at[0]);
  const shape = Math.exp(fit.at[1]);
  const shareBelowCut = gammaCdf(cutDn, meanDn, shape);
  if (shareBelowCut > MOST_BELOW_CUT) return { kind: 'refused', because: 'charge drowns in the noise' };
  const slope = [0, 1].map((k) => {
    const at = (step: number): number =>
      gammaCdf(cutDn, Math.exp(fit.at[0] + (k === 0 ? step : 0)), Math.exp(fit.at[1] + (k === 1 ? step : 0)));
    return (at(1e-4) - at(-1e-4)) / 2e-4;
  });
  const [v00, v01, , v11] = fit.covariance;
  return {
    kind: 'fitted',
    meanDn,
    meanSigmaDn: meanDn * Math.sqrt(fit.covariance[0]),
    spread: 1 / Math.sqrt(shape),
    spreadSigma: (0.5 / Math.sqrt(shape)) * Math.sqrt(fit.covariance[3]),
    shareBelowCut,
    shareBelowCutSigma: Math.sqrt(slope[0] ** 2 * v00 + 2 * slope[0] * slope[1] * v01 + slope[1] ** 2 * v11),
    count,
    goodness: chiSquareTail(fit.chiSquare, BINS - 3),
  };
}

/** P(charge <= q) of a gamma law with the given mean and shape. */
export const gammaCdf = (q: number, mean: number, shape: number): number =>
  q <= 0 ? 0 : poissonTail(shape, (q * shape) / mean);

type BinShares = (lnMean: number, lnShape: number) => Float64Array | null;

/** Shares of the law with noise that fall into each bin, of those that fall into any; null where the law leaves none. */
function binShares(edges: Float64Array, noiseDn: number, topDn: number): BinShares {
  const reach = topDn + 6 * noiseDn;
  // How a charge spreads over the bins depends on the noise alone.
  const nodes = Float64Array.from({ length: STEPS + 1 }, (_, j) => reach * (j / STEPS) ** 2);
  const spread = new Float64Array(STEPS * (edges.length - 1));
  for (let j = 0; j < STEPS; j++) {
    const middle = (nodes[j] + nodes[j + 1]) / 2;
    // A step is an interval, not a point: its own width is added to the noise (variance of a uniform law).
    const sigma = Math.hypot(noiseDn, (nodes[j + 1] - nodes[j]) / Math.sqrt(12));
    let below = normalCdf((edges[0] - middle) / sigma);
    for (let i = 0; i < edges.length - 1; i++) {
      const next = normalCdf((edges[i + 1] - middle) / sigma);
      spread[j * (edges.length - 1) + i] = next - below;
      below = next;
    }
  }
  return (lnMean, lnShape) => {
    const [mean, shape] = [Math.exp(lnMean), Math.exp(lnShape)];
    const out = new Float64Array(edges.length - 1);
    let below = 0;
    for (let j = 0; j < STEPS; j++) {
      const next = gammaCdf(nodes[j + 1], mean, shape);
      const weight = next - below;
      below = next;
      if (weight > 0) for (let i = 0; i < out.length; i++) out[i] += weight * spread[j * out.length + i];
    }
    const total = out.reduce((sum, p) => sum + p, 0);
    if (!(total > 1e-9)) return null;
    for (let i = 0; i < out.length; i++) out[i] = Math.max(out[i] / total, 1e-12);
    return out;
  };
}

interface Fit {
  readonly at: readonly [number, number];
  /** Of (ln mean, ln shape), row by row. */
  readonly covariance: readonly [number, number, number, number];
  readonly chiSquare: number;
}

/** Scoring in (ln mean, ln shape), with steps halved until they gain. */
function mostLikely(
  counts: Float64Array,
  total: number,
  shares: BinShares,
  start: readonly [number, number],
): Fit | null {
  const logLikelihood = (p: Float64Array): number => counts.reduce((sum, n, i) => sum + n * Math.log(p[i]), 0);
  let at: [number, number] = [start[0], start[1]];
  let p = shares(...at);
  if (!p) return null;
  let best = logLikelihood(p);
  for (let round = 0; round < 100; round++) {
    const d = [0, 1].map((k) => {
      const step = 1e-4;
      const plus = shares(at[0] + (k === 0 ? step : 0), at[1] + (k === 1 ? step : 0));
      const minus = shares(at[0] - (k === 0 ? step : 0), at[1] - (k === 1 ? step : 0));
      return Float64Array.from(counts, (_, i) => (plus![i] - minus![i]) / (2 * step));
    });
    let [g0, g1, i00, i01, i11] = [0, 0, 0, 0, 0];
    for (let i = 0; i < counts.length; i++) {
      g0 += (counts[i] * d[0][i]) / p[i];
      g1 += (counts[i] * d[1][i]) / p[i];
      i00 += (total * d[0][i] * d[0][i]) / p[i];
      i01 += (total * d[0][i] * d[1][i]) / p[i];
      i11 += (total * d[1][i] * d[1][i]) / p[i];
    }
    const determinant = i00 * i11 - i01 * i01;
    if (!(determinant > 1e-12 * i00 * i11)) return null;
    const step = [(i11 * g0 - i01 * g1) / determinant, (i00 * g1 - i01 * g0) / determinant];
    let share = Math.min(1, 0.7 / Math.max(Math.abs(step[0]), Math.abs(step[1]), 1e-9));
    let moved = false;
    for (; share > 1e-6; share /= 2) {
      const trial: [number, number] = [at[0] + share * step[0], at[1] + share * step[1]];
      if (Math.abs(trial[1]) > 5) continue;
      const q = shares(...trial);
      const value = q ? logLikelihood(q) : Number.NEGATIVE_INFINITY;
      if (q && value >= best - 1e-9) {
        moved = true;
        [at, p, best] = [trial, q, value];
        break;
      }
    }
    if (!moved || Math.abs(share * step[0]) + Math.abs(share * step[1]) < 1e-7) {
      const expected = p.map((x) => x * total);
      const chiSquare = counts.reduce((sum, n, i) => sum + (n - expected[i]) ** 2 / expected[i], 0);
      return {
        at,
        covariance: [i11 / determinant, -i01 / determinant, -i01 / determinant, i00 / determinant],
        chiSquare,
      };
    }
  }
  return null;
}

/** Density of the gamma law, for drawing it over a histogram. */
export const gammaDensity = (q: number, mean: number, shape: number): number =>
  Math.exp((shape - 1) * Math.log((q * shape) / mean) - (q * shape) / mean - logGamma(shape)) * (shape / mean);
