import type { PhotonEvents } from '../../photon/PhotonEvents.ts';

/** What a single photon event is worth, measured on the flight's own background. */
export interface SingleEvents {
  /** Mean charge at a gain setting, DN. */
  meanCharge(gain: number): number;
  /** (standard deviation / mean)² of the charge, over all gains. */
  readonly spread2: number;
  /** Relative standard deviation of the mean. */
  readonly relativeSigma: number;
  /** Events that the figures rest on. */
  readonly count: number;
}

/** With fewer events than this the gain curve is better than what can be measured. */
const FEWEST = 200;

/**
 * Measures the charge of single events on those without any flag that no sighting explains: isolated background.
 * Each is set against the rig's gain curve, so that all gains of the flight are used together and one factor is measured.
 * @param chargeByCurve mean charge at a gain by the rig's gain curve
 * @param explained     rows that belong to a sighting
 */
export function singleEvents(
  events: PhotonEvents,
  gainOfFrame: (frame: number) => number,
  chargeByCurve: (gain: number) => number,
  explained: ReadonlySet<number>,
): SingleEvents {
  let count = 0;
  let sum = 0;
  let squares = 0;
  for (let i = 0; i < events.count; i++) {
    if (events.flags[i] !== 0 || explained.has(i)) continue;
    const share = events.charge[i] / chargeByCurve(gainOfFrame(events.frame[i]));
    count++;
    sum += share;
    squares += share * share;
  }
  if (count < FEWEST) {
    // Half of the exponential's spread, and a tenth for the curve itself (common practice, no source).
    return { meanCharge: chargeByCurve, spread2: 0.5, relativeSigma: 0.1, count };
  }
  const mean = sum / count;
  const spread2 = Math.max(0, squares / count / (mean * mean) - 1);
  return {
    meanCharge: (gain) => mean * chargeByCurve(gain),
    spread2,
    relativeSigma: Math.sqrt(spread2 / count),
    count,
  };
}
