import { chiSquareQuantile } from './distributions.ts';

export interface Interval {
  readonly lower: number;
  readonly upper: number;
}

/**
 * Exact central confidence interval for the mean of a Poisson count, possibly a non-integer effective count.
 * @param count      observed count, >= 0
 * @param confidence e.g. 0.95, equal tails
 * Source: Garwood, Biometrika 28 (1936) 437: chi-square quantiles with 2n and 2n + 2 degrees of freedom, halved.
 */
export function garwoodInterval(count: number, confidence: number): Interval {
  if (!(count >= 0)) throw new RangeError(`garwoodInterval: count ${count} is negative or not a number`);
  const tail = (1 - confidence) / 2;
  return {
    lower: count === 0 ? 0 : chiSquareQuantile(tail, 2 * count) / 2,
    upper: chiSquareQuantile(1 - tail, 2 * count + 2) / 2,
  };
}
