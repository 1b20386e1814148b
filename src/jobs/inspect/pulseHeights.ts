import { poissonTail } from '../../maths/distributions.ts';

/** The law of the charges of single photons, those below the finder's threshold included. */
export interface PulseHeights {
  /** In the unit of the charges. */
  readonly mean: number;
  /** (standard deviation / mean)². */
  readonly spread2: number;
  /** Share of single photons that the finder finds. */
  readonly foundShare: number;
  /** Share of the charge of single photons that is in those it does not find. */
  readonly missedCharge: number;
}

/** Share of the charges below the firm cut: the finder's own threshold is soft, so that just above it some are missing. */
const BELOW_CUT = 0.08;
/** At the top a hundredth is left aside: what overlaps another photon is no single one. */
const ABOVE_TOP = 0.01;

/**
 * Fits a gamma law, as the pulses of a channel plate follow, to what lies between a firm cut and the top; the part below the cut is
 * that law's. The fit has the mean and variance found between both.
 * `photon/response` fits the same law by maximum likelihood with the read noise folded in; an inspection of stored events does not know
 * that noise, and needs no covariances.
 * @param charges of single events, a few hundred or more, in any order
 * Accuracy: docs/accuracy/photons.md.
 */
export function fitPulseHeights(charges: readonly number[]): PulseHeights {
  const sorted = [...charges].sort((a, b) => a - b);
  const first = Math.floor(BELOW_CUT * sorted.length);
  const end = sorted.length - Math.floor(ABOVE_TOP * sorted.length);
  const cut = sorted[first];
  const top = sorted[end - 1];
  const between = sorted.slice(first, end);
  const mean = between.reduce((sum, q) => sum + q, 0) / between.length;
  const variance = between.reduce((sum, q) => sum + (q - mean) ** 2, 0) / between.length;
  let shape = (mean * mean) / variance;
  let scale = variance / mean;
  // Moments of the part between cut and top: E[q^j] of a gamma law follows from its tails with raised shape.
  const shareBetween = (k: number): number => poissonTail(k, top / scale) - poissonTail(k, cut / scale);
  for (let i = 0; i < 300; i++) {
    const share = shareBetween(shape);
    const m1 = (shape * scale * shareBetween(shape + 1)) / share;
    const m2 = (shape * (shape + 1) * scale * scale * shareBetween(shape + 2)) / share;
    // Mean and variance of the whole law are moved by what those of the part miss.
    const wholeMean = shape * scale * (mean / m1) ** 0.5;
    const wholeVariance = shape * scale * scale * (variance / (m2 - m1 * m1)) ** 0.5;
    const nextShape = Math.max(0.5, Math.min(50, (wholeMean * wholeMean) / wholeVariance));
    const done = Math.abs(nextShape - shape) < 1e-7;
    shape = nextShape;
    scale = wholeMean / shape;
    if (done) break;
  }
  const all = (sorted.length * (1 - BELOW_CUT - ABOVE_TOP)) / shareBetween(shape);
  const foundShare = Math.min(1, sorted.length / all);
  return { mean: shape * scale, spread2: 1 / shape, foundShare, missedCharge: chargeBelow(1 - foundShare, shape) };
}

/** Share of the charge of a gamma law that is in the faintest of its pulses, which are such a share of all. */
function chargeBelow(share: number, shape: number): number {
  if (share <= 0) return 0;
  let [low, high] = [0, shape];
  for (let i = 0; i < 60; i++) {
    const middle = (low + high) / 2;
    if (poissonTail(shape, middle) < share) low = middle;
    else high = middle;
  }
  return poissonTail(shape + 1, high);
}
