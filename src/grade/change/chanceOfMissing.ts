import { normalQuantile, poissonTail } from '../../maths/distributions.ts';
import { NORMAL_NODES } from '../../maths/normalNodes.ts';
import type { PhotonRate } from '../PhotonRate.ts';
import type { ChangeParameters } from './changeParameters.ts';

const Z_95 = normalQuantile(0.975);
/** So many events are missed with less than 1e-100; the library's incomplete gamma function would run out of range. */
const SURE_MEAN = 300;

/**
 * The chance that a campaign would not have found a discharge which another campaign measured, had it not changed.
 * The limit is where a steady discharge is found with 95 %; around it the chance to miss falls as that of fewer than k of a
 * Poisson count, k such that `eventsAtLimit` are missed with 5 %. It is averaged over what is not known of the rate: its whole
 * 95 % interval and the change from day to day.
 */
export function chanceOfMissing(rate: PhotonRate, limitHz: number, parameters: ChangeParameters): number {
  const needed = eventsNeeded(parameters.eventsAtLimit);
  const { lower, upper } = rate.interval;
  const arm = Math.log(upper / Math.max(lower, upper * 1e-3)) / 2;
  const sigma = Math.hypot(arm / Z_95, parameters.dayToDayRelativeSigma);
  let missed = 0;
  for (const { z, weight } of NORMAL_NODES) {
    const rateHz = rate.rateHz * Math.exp(sigma * z);
    const mean = (parameters.eventsAtLimit * rateHz) / limitHz;
    if (mean < SURE_MEAN) missed += weight * (1 - poissonTail(needed, mean));
  }
  return missed;
}

/** k, not whole, with P(fewer than k | mean) = 5 %. */
function eventsNeeded(mean: number): number {
  let low = 0;
  let high = mean;
  for (let i = 0; i < 60; i++) {
    const middle = (low + high) / 2;
    if (1 - poissonTail(middle, mean) < 0.05) low = middle;
    else high = middle;
  }
  return high;
}
