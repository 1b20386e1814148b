import type { Reason } from './Reason.ts';
import { reasonInEnglish } from './reasonsInEnglish.ts';

/** How the phase of the mains may have deceived the count. */
export interface MainsEffect {
  /** Relative standard deviation of the mean light for want of knowing the phase. */
  readonly relativeSigma: number;
  /** A sentence for the report where it matters (above 2 %); null otherwise. */
  readonly note: string | null;
  /** The same for any language. */
  readonly remark: Reason | null;
}

/** Share of each half-cycle, about its crest, in which a steady discharge gives light: a working value, not measured. */
const BRIGHT_SHARE = 1 / 3;
/** A grid wanders by this much within minutes, so that frames near the mains' own rhythm drift through its phase. */
const GRID_WANDER_HZ = 0.02;

/**
 * Corona glows about the crests, twice a cycle. An exposure of whole half-cycles takes in the same share whatever the
 * phase; a shorter one may sit on a crest or in a gap, and where frames are locked to the mains it stays there.
 * The error of the mean is that of one exposure at a random phase, divided by the root of the independent phases that
 * the watching ran through. No correction is made: the phase is not recorded.
 */
export function mainsEffect(of: {
  readonly mainsHz: number;
  readonly exposureS: number;
  readonly frameRateHz: number;
  readonly watchedS: number;
}): MainsEffect {
  const twice = 2 * of.mainsHz;
  const halves = of.exposureS * twice;
  const one = phaseSpread(halves);
  // Light pulsing at 2 f, sampled at the frame rate, comes back at this beat.
  const beatHz = Math.abs(twice - Math.round(twice / of.frameRateHz) * of.frameRateHz);
  const driftHz = Math.max(beatHz, 2 * GRID_WANDER_HZ);
  const phases = Math.max(1, of.watchedS * driftHz);
  const relativeSigma = one / phases;
  if (relativeSigma < 0.02) return { relativeSigma, note: null, remark: null };
  const values = { exposureMs: of.exposureS * 1000, halves, sigma: relativeSigma };
  const remark: Reason =
    beatHz < 0.2 ? { key: 'mains locked', values } : { key: 'mains beating', values: { ...values, beatS: 1 / beatHz } };
  return { relativeSigma, note: reasonInEnglish(remark), remark };
}

/** Relative standard deviation, over the phase, of the light in a window of so many half-cycles. */
function phaseSpread(halves: number): number {
  const steps = 720;
  let sum = 0;
  let squares = 0;
  for (let i = 0; i < steps; i++) {
    const from = i / steps;
    const light = lightBefore(from + halves) - lightBefore(from);
    sum += light;
    squares += light * light;
  }
  const mean = sum / steps;
  return mean > 0 ? Math.sqrt(Math.max(0, squares / steps - mean * mean)) / mean : 0;
}

/** Light given off since phase 0, in half-cycles of full brightness. */
const lightBefore = (phase: number): number => {
  const whole = Math.floor(phase);
  return whole * BRIGHT_SHARE + Math.min(phase - whole, BRIGHT_SHARE);
};
