/**
 * How many places as strong as a given ln likelihood ratio chance gives in an hour of flight. Above `from`, the number
 * falls exponentially: rate(L) = perHour · exp(-slope (L - from)).
 */
export interface FalseAlarmLaw {
  readonly from: number;
  readonly perHour: number;
  readonly slope: number;
  /** Chance maxima above `from` that it rests on, and the hours of scrambled flight they came from. */
  readonly exceedances: number;
  readonly hours: number;
}

/**
 * Twice the ratio follows chi-square in the limit of many events, so chance falls as exp(-L) far out; few events in the
 * aperture make it uneven. The measured slope is drawn to this one with the weight of PRIOR_EXCEEDANCES exceedances.
 */
const PRIOR_SLOPE = 1;
const PRIOR_EXCEEDANCES = 30;

/**
 * Law of the chance maxima found in scrambled flights: exponential tail above a level that keeps the most extreme
 * quarter, 30 to 100, of them; its slope by maximum likelihood (the inverse mean excess).
 */
export function fitFalseAlarmLaw(chanceRatios: readonly number[], hours: number, floor: number): FalseAlarmLaw {
  const sorted = [...chanceRatios].sort((a, b) => b - a);
  const keep = Math.min(sorted.length, Math.max(30, Math.min(100, Math.ceil(sorted.length / 4))));
  const from = keep < sorted.length ? sorted[keep] : floor;
  const above = sorted.slice(0, keep);
  const excess = above.reduce((sum, ratio) => sum + (ratio - from), 0);
  const slope = (above.length + PRIOR_EXCEEDANCES) / (excess + PRIOR_EXCEEDANCES / PRIOR_SLOPE);
  // Where nothing exceeded the floor, one half event is the median estimate of what was not seen.
  return { from, perHour: Math.max(above.length, 0.5) / hours, slope, exceedances: above.length, hours };
}

export const falseAlarmsPerHour = (law: FalseAlarmLaw, logLikelihoodRatio: number): number =>
  law.perHour * Math.exp(-law.slope * Math.max(0, logLikelihoodRatio - law.from));

/** The ratio that chance reaches as often as allowed; never below the level from which the law holds. */
export const thresholdFor = (law: FalseAlarmLaw, allowedPerHour: number): number =>
  law.from + Math.max(0, Math.log(law.perHour / allowedPerHour)) / law.slope;

/** The law of a flight whose threshold at an allowed rate is known already. */
export const lawThrough = (threshold: number, allowedPerHour: number): FalseAlarmLaw => ({
  from: threshold,
  perHour: allowedPerHour,
  slope: PRIOR_SLOPE,
  exceedances: 0,
  hours: 0,
});
