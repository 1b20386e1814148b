/**
 * How many places as strong as a given ln likelihood ratio chance gives in an hour of flight. Above `from`, the number
 * falls exponentially: rate(L) = perHour · exp(-slope (L - from)), with a slope that is known from so many exceedances.
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
 * aperture make it uneven, and flatter near the threshold (0.7 to 1.1 over 20 hours each of two cameras without sources). The
 * measured slope is drawn to this one with the weight of PRIOR_EXCEEDANCES exceedances.
 */
const PRIOR_SLOPE = 0.8;
const PRIOR_EXCEEDANCES = 30;

/**
 * The most extreme maxima that the law rests on. Few events make the tail uneven (four rays that cross give a ratio up to some
 * height and none above, five reach higher): what lies far below the threshold says nothing of it, however many there are.
 */
const KEPT = 30;

/**
 * Law of the chance maxima found in scrambled flights: exponential tail above a level that keeps the most extreme of them;
 * its slope by maximum likelihood (the inverse mean excess).
 */
export function fitFalseAlarmLaw(chanceRatios: readonly number[], hours: number, floor: number): FalseAlarmLaw {
  const sorted = [...chanceRatios].sort((a, b) => b - a);
  const keep = Math.min(sorted.length, KEPT);
  const from = keep < sorted.length ? sorted[keep] : floor;
  const above = sorted.slice(0, keep);
  const excess = above.reduce((sum, ratio) => sum + (ratio - from), 0);
  const slope = (above.length + PRIOR_EXCEEDANCES) / (excess + PRIOR_EXCEEDANCES / PRIOR_SLOPE);
  // Where nothing exceeded the floor, one half event is the median estimate of what was not seen.
  return { from, perHour: Math.max(above.length, 0.5) / hours, slope, exceedances: above.length, hours };
}

/** Number of exceedances that the slope rests on, the prior's included; infinite for a law that was not measured. */
const weightOf = (law: FalseAlarmLaw): number =>
  law.hours === 0 ? Number.POSITIVE_INFINITY : law.exceedances + PRIOR_EXCEEDANCES;

/**
 * The mean over what the slope may be: gamma with N exceedances, whose exponential has the mean (1 + slope x / N)^-N. With the
 * best slope alone, flights whose slope came out too steep would give more false alarms than the others save.
 */
export function falseAlarmsPerHour(law: FalseAlarmLaw, logLikelihoodRatio: number): number {
  const n = weightOf(law);
  const x = law.slope * Math.max(0, logLikelihoodRatio - law.from);
  return law.perHour * (n === Number.POSITIVE_INFINITY ? Math.exp(-x) : (1 + x / n) ** -n);
}

/** The ratio that chance reaches as often as allowed; never below the level from which the law holds. */
export function thresholdFor(law: FalseAlarmLaw, allowedPerHour: number): number {
  const n = weightOf(law);
  const times = Math.log(Math.max(1, law.perHour / allowedPerHour));
  return law.from + (n === Number.POSITIVE_INFINITY ? times : n * Math.expm1(times / n)) / law.slope;
}

/** The law of a flight whose threshold at an allowed rate is known already. */
export const lawThrough = (threshold: number, allowedPerHour: number): FalseAlarmLaw => ({
  from: threshold,
  perHour: allowedPerHour,
  slope: PRIOR_SLOPE,
  exceedances: 0,
  hours: 0,
});
