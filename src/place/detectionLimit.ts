import { poissonTail } from '../maths/distributions.ts';

/** One pass over a place: what a source of one photon per second would give, and what it takes to be found. */
export interface PassSensitivity {
  /** Expected events for a source of 1 photon/s into 4 pi. */
  readonly eventsPerHz: number;
  /** Mean events that are found with 95 % in a single pass. */
  readonly eventsNeeded: number;
}

/**
 * The count k at which a mean of `eventsNeeded` events reaches k or more with 95 %; real-valued, as a stand-in for a
 * threshold on a likelihood, which grows smoothly.
 */
export function thresholdFor(eventsNeeded: number): number {
  let low = 0;
  let high = eventsNeeded;
  for (let i = 0; i < 60; i++) {
    const middle = (low + high) / 2;
    if (poissonTail(middle, eventsNeeded) > 0.95) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

/** Probability that at least one pass finds a steady source of this rate: the passes are searched one by one. */
export function probabilityFound(rateHz: number, passes: readonly PassSensitivity[]): number {
  let missed = 1;
  for (const pass of passes) missed *= 1 - poissonTail(thresholdFor(pass.eventsNeeded), rateHz * pass.eventsPerHz);
  return 1 - missed;
}

/** The rate at the source, photons/s, that is found with a probability; bisection to 1e-6. */
export function rateFoundWith(probability: number, passes: readonly PassSensitivity[]): number {
  const thresholds = passes.map((pass) => thresholdFor(pass.eventsNeeded));
  const found = (rateHz: number): number =>
    1 - passes.reduce((missed, pass, i) => missed * (1 - poissonTail(thresholds[i], rateHz * pass.eventsPerHz)), 1);
  let high = 1 / Math.max(...passes.map((pass) => pass.eventsPerHz));
  if (!Number.isFinite(high)) throw new RangeError('rateFoundWith: no pass has any sensitivity');
  while (found(high) < probability) high *= 2;
  let low = 0;
  while (high - low > 1e-6 * high) {
    const middle = (low + high) / 2;
    if (found(middle) < probability) low = middle;
    else high = middle;
  }
  return high;
}
