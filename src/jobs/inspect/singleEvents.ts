import type { PhotonEvents } from '../../photon/PhotonEvents.ts';
import { fitPulseHeights } from './pulseHeights.ts';

/** What a single photon is worth, measured on the flight's own background. */
export interface SingleEvents {
  /** Mean charge at a gain setting, DN, of all photons: those too faint to be found included. */
  meanCharge(gain: number): number;
  /** Share of single photons that the finder finds at a gain. */
  foundShare(gain: number): number;
  /** Share of the charge of single photons that is in those too faint to be found. */
  missedCharge(gain: number): number;
  /** (standard deviation / mean)² of the charge. */
  readonly spread2: number;
  /** Relative standard deviation of the mean. */
  readonly relativeSigma: number;
  /** Events that the figures rest on. */
  readonly count: number;
}

/** With fewer events than this the gain curve is better than what can be measured. */
const FEWEST = 200;
/** Carrying the law of charges below the finder's threshold scatters its mean so much more than the charges alone: 1.4 to 1.8 as drawn. */
const CARRIED_BELOW = 1.6;

/**
 * Measures the charge of single events on those without any flag that no sighting explains: isolated background. Each is set
 * against the rig's gain curve. Gains with too few events of their own take the figures of all gains together.
 * @param chargeByCurve mean charge at a gain by the rig's gain curve
 * @param explained     rows that belong to a sighting
 */
export function singleEvents(
  events: PhotonEvents,
  gainOfFrame: (frame: number) => number,
  chargeByCurve: (gain: number) => number,
  explained: ReadonlySet<number>,
): SingleEvents {
  const all: number[] = [];
  const byGain = new Map<number, number[]>();
  for (let i = 0; i < events.count; i++) {
    if (events.flags[i] !== 0 || explained.has(i)) continue;
    const gain = gainOfFrame(events.frame[i]);
    const share = events.charge[i] / chargeByCurve(gain);
    all.push(share);
    const ofGain = byGain.get(gain);
    if (ofGain) ofGain.push(share);
    else byGain.set(gain, [share]);
  }
  if (all.length < FEWEST) {
    // Half of the exponential's spread, and a tenth for the curve itself (common practice, no source).
    return {
      meanCharge: chargeByCurve,
      foundShare: () => 1,
      missedCharge: () => 0,
      spread2: 0.5,
      relativeSigma: 0.1,
      count: all.length,
    };
  }
  const together = fitPulseHeights(all);
  const ofGain = new Map(
    [...byGain].map(([gain, shares]) => [gain, shares.length < FEWEST ? together : fitPulseHeights(shares)] as const),
  );
  const at = (gain: number): ReturnType<typeof fitPulseHeights> => ofGain.get(gain) ?? together;
  return {
    meanCharge: (gain) => at(gain).mean * chargeByCurve(gain),
    foundShare: (gain) => at(gain).foundShare,
    missedCharge: (gain) => at(gain).missedCharge,
    spread2: together.spread2,
    relativeSigma: CARRIED_BELOW * Math.sqrt(together.spread2 / all.length),
    count: all.length,
  };
}

/** Share found over all frames of a flight, each gain with the share of the events that it has. */
export function meanFoundShare(
  single: SingleEvents,
  events: PhotonEvents,
  gainOfFrame: (frame: number) => number,
): number {
  const step = Math.max(1, Math.floor(events.count / 1000));
  let sum = 0;
  let n = 0;
  for (let i = 0; i < events.count; i += step) {
    sum += 1 / single.foundShare(gainOfFrame(events.frame[i]));
    n++;
  }
  return n > 0 ? n / sum : 1;
}
