/** Frames in which the place of a discharge was in view, whether or not it showed. All arrays of one length. */
export interface SourceFrames {
  /** Events found inside the aperture around the discharge. */
  readonly counts: Float64Array;
  /** Their charge together, DN at the gain of the frame, or any unit that `singleCharge` shares. */
  readonly charge: Float64Array;
  /** Background events expected inside the aperture. */
  readonly background: Float64Array;
  /** Share of single photons that are found; 1 where missing. */
  readonly foundShare?: Float64Array;
  /** Share of the charge of single photons that is in those too faint to be found, which `charge` lacks; 0 where missing. */
  readonly missedCharge?: number;
  /** Mean charge of a single photon, measured where events stand alone. */
  readonly singleCharge: number;
  /** (standard deviation / mean)² of a single event's charge. */
  readonly singleChargeSpread2: number;
  /** Events expected for a source of one photon per second: exposure x opening x efficiency x air. */
  readonly lightGrasp: Float64Array;
}

export interface SourceCounts {
  /** Photons of the source over all frames, those too faint to be found included, background taken off; may be negative by chance. */
  readonly events: number;
  /** Background expected over all frames, counted likewise. */
  readonly background: number;
  /** Sum of light grasp. */
  readonly grasp: number;
  /** How much of the figure comes from charge, 0 to 1. */
  readonly chargeShare: number;
  /** Variance of source + background over its Poisson variance, for a steady source: what the estimator adds. */
  readonly inflation: number;
}

/**
 * Photons a frame at which charge begins to take over from frames hit, and where it has done so. Well below one: a source
 * that flickers from frame to frame with relative variance v fills fewer frames than a steady one, and the share hit
 * then reads low by about v/2 of the photons a frame, while the charge stays right.
 */
const CHARGE_FROM = 0.1;
const CHARGE_ONLY = 0.5;
/** Photons in a frame beside which a faint one is found with a chance of 1 - 1/e. */
const OTHERS_THAT_CARRY = 3;

/**
 * Detected photons of a source, from the faintest to far beyond overlap.
 * At few photons a frame by the share of frames hit: the likelihood of hit or empty, frame by frame, with its changing
 * range and the share of photons that the finder finds; the figure -ln(n0/N) is its special case for equal frames. Merging cannot bias it, and no gain enters. It reads
 * low where the source flickers, and its variance grows as (e^μ - 1)/μ, so that charge takes over: photons = charge / charge
 * of one event.
 */
export function estimateSource(frames: SourceFrames): SourceCounts {
  const n = frames.counts.length;
  if (n === 0) throw new RangeError('estimateSource: no frame in view');
  let grasp = 0;
  let background = 0;
  let charge = 0;
  for (let i = 0; i < n; i++) {
    grasp += frames.lightGrasp[i];
    background += frames.background[i] / foundShareIn(frames, i);
    charge += frames.charge[i] / frames.singleCharge;
  }
  if (!(grasp > 0)) throw new RangeError('estimateSource: no light could have come in any frame');
  // A faint photon with others around it in its frame lies in their region and is counted with them; how many that takes is measured
  // on invented glows (docs/accuracy/photons.md).
  const alone = Math.exp(-Math.max(0, charge) / n / OTHERS_THAT_CARRY);
  const byCharge = charge / (1 - (frames.missedCharge ?? 0) * alone) - background;
  const chargeInflation = 1 + frames.singleChargeSpread2;
  // Which estimator to trust is read from the charge, which is right at every light level, if noisier.
  const perFrame = Math.max(0, charge) / n;
  const chargeShare = smoothStep((Math.log(Math.max(perFrame, 1e-9)) - LOG_FROM) / (LOG_ONLY - LOG_FROM));
  if (chargeShare >= 1) return { events: byCharge, background, grasp, chargeShare: 1, inflation: chargeInflation };
  const hit = eventsByFramesHit(frames);
  if (!hit) return { events: byCharge, background, grasp, chargeShare: 1, inflation: chargeInflation };
  return {
    events: chargeShare * byCharge + (1 - chargeShare) * hit.events,
    background,
    grasp,
    chargeShare,
    inflation: chargeShare * chargeInflation + (1 - chargeShare) * hit.inflation,
  };
}

const foundShareIn = (frames: SourceFrames, i: number): number => frames.foundShare?.[i] ?? 1;

const LOG_FROM = Math.log(CHARGE_FROM);
const LOG_ONLY = Math.log(CHARGE_ONLY);
const smoothStep = (x: number): number => (x <= 0 ? 0 : x >= 1 ? 1 : x * x * (3 - 2 * x));

/**
 * Maximum likelihood of the rate from which frames were hit, λ_i = rate g_i + b_i: the slope
 * Σ_hit g_i / (e^λ_i - 1) - Σ_empty g_i falls with the rate and is brought to nought by bisection.
 * @returns null where no frame is empty: the share hit then has no upper bound on the rate
 */
function eventsByFramesHit(frames: SourceFrames): { events: number; inflation: number } | null {
  const n = frames.counts.length;
  let grasp = 0;
  let empty = 0;
  let background = 0;
  /** Found events for a source of one photon per second. */
  const found = frames.lightGrasp.map((g, i) => g * foundShareIn(frames, i));
  for (let i = 0; i < n; i++) {
    grasp += frames.lightGrasp[i];
    background += frames.background[i] / foundShareIn(frames, i);
    if (frames.counts[i] === 0) empty++;
  }
  if (empty === 0) return null;
  const slope = (rate: number): number => {
    let sum = 0;
    for (let i = 0; i < n; i++) {
      const g = found[i];
      if (frames.counts[i] > 0) sum += g / Math.expm1(rate * g + frames.background[i]);
      else sum -= g;
    }
    return sum;
  };
  // Below the background the source is negative by chance; kept, so that means over many places stay right. A frame's
  // mean must stay above 0.
  let low = Number.NEGATIVE_INFINITY;
  for (let i = 0; i < n; i++) if (found[i] > 0) low = Math.max(low, -frames.background[i] / found[i]);
  if (empty === n) return { events: -background, inflation: 1 };
  let high = n / grasp;
  while (slope(high) > 0) high *= 2;
  for (let i = 0; i < 200 && high - low > 1e-12 * Math.abs(high); i++) {
    const middle = (low + high) / 2;
    if (slope(middle) > 0) low = middle;
    else high = middle;
  }
  const rate = (low + high) / 2;
  let information = 0;
  let total = 0;
  for (let i = 0; i < n; i++) {
    const g = found[i];
    const mu = Math.max(rate * g + frames.background[i], 1e-12);
    const odds = Math.expm1(mu);
    information += (g * g) / odds;
    total += mu / foundShareIn(frames, i);
  }
  return {
    events: (rate - biasOf(frames, found, rate, information)) * grasp,
    inflation: Math.max(1, (grasp * grasp) / information / total),
  };
}

/**
 * First-order bias of a maximum-likelihood estimate, for equal frames (e^μ - 1) / (2 N): I^-2 (E[l'''] / 2 + E[l' l'']).
 * Source: Cox & Snell, J. R. Statist. Soc. B 30 (1968) 248 (from memory).
 */
function biasOf(frames: SourceFrames, found: Float64Array, rate: number, information: number): number {
  let skew = 0;
  for (let i = 0; i < frames.counts.length; i++) {
    const g = found[i];
    const mu = Math.max(rate * g + frames.background[i], 1e-12);
    const odds = Math.expm1(mu);
    const hit = odds / (odds + 1);
    // With u = g / (e^mu - 1): l' = u (hit) or -g (empty); l'' = -g u (e^mu / (e^mu - 1)) on a hit; l''' its derivative.
    const l1 = g / odds;
    const l2 = (-g * g * (odds + 1)) / (odds * odds);
    const l3 = (g ** 3 * (odds + 1) * (odds + 2)) / odds ** 3;
    skew += hit * (l3 / 2 + l1 * l2);
  }
  return skew / (information * information);
}
