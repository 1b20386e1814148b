import { randomFrom } from '../../src/maths/random.ts';
import { quantile } from '../../src/maths/sampleStatistics.ts';

const DRAWS = 2000;

/**
 * 95 % interval of a figure over groups whose members share errors: whole groups are drawn with replacement, percentiles of
 * 2000 draws, seed 1. Source: Efron & Tibshirani, An Introduction to the Bootstrap (1993), chapters 8 and 13 (from memory).
 */
export function bootstrapByFlight<T>(
  flights: readonly (readonly T[])[],
  figure: (members: readonly T[]) => number,
): readonly [number, number] {
  const random = randomFrom(1);
  const figures: number[] = [];
  for (let draw = 0; draw < DRAWS; draw++) {
    const members: T[] = [];
    for (let i = 0; i < flights.length; i++) members.push(...flights[Math.floor(random.uniform() * flights.length)]);
    const value = figure(members);
    if (Number.isFinite(value)) figures.push(value);
  }
  return [quantile(figures, 0.025), quantile(figures, 0.975)];
}
