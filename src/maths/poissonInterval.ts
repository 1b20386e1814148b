import { chiSquareQuantile, normalQuantile } from './distributions.ts';

export interface Interval {
  readonly lower: number;
  readonly upper: number;
}

/**
 * Exact central confidence interval for the mean of a Poisson count, possibly a non-integer effective count.
 * @param count      observed count, >= 0
 * @param confidence e.g. 0.95, equal tails
 * Source: Garwood, Biometrika 28 (1936) 437: chi-square quantiles with 2n and 2n + 2 degrees of freedom, halved. Above 1000
 * counts, where the library's incomplete gamma function runs out of range, by Wilson & Hilferty's cube (PNAS 17 (1931) 684),
 * which agrees to 1e-6 of the count there.
 */
export function garwoodInterval(count: number, confidence: number): Interval {
  if (!(count >= 0)) throw new RangeError(`garwoodInterval: count ${count} is negative or not a number`);
  const tail = (1 - confidence) / 2;
  if (count > 1000) {
    const z = normalQuantile(1 - tail);
    const cube = (k: number, sigmas: number): number => k * (1 - 1 / (9 * k) + sigmas / (3 * Math.sqrt(k))) ** 3;
    return { lower: cube(count, -z), upper: cube(count + 1, z) };
  }
  return {
    lower: count === 0 ? 0 : chiSquareQuantile(tail, 2 * count) / 2,
    upper: chiSquareQuantile(1 - tail, 2 * count + 2) / 2,
  };
}
