import { expect, test } from 'vitest';
import { chiSquareQuantile, chiSquareTail, normalQuantile, poissonCdf, poissonTail } from './distributions.ts';
import { garwoodInterval } from './poissonInterval.ts';

// Ordinary chi-square tables (any statistics handbook), four decimals.
test.each([
  [0.95, 1, 3.8415],
  [0.95, 2, 5.9915],
  [0.95, 3, 7.8147],
  [0.95, 6, 12.5916],
  [0.99, 3, 11.3449],
])('chi-square %d quantile with %i degrees of freedom is the table value %d', (p, df, expected) => {
  expect(chiSquareQuantile(p, df)).toBeCloseTo(expected, 4);
  expect(chiSquareTail(expected, df)).toBeCloseTo(1 - p, 5);
});

test('the normal 97.5 % quantile is 1.959964', () => expect(normalQuantile(0.975)).toBeCloseTo(1.959964, 6));

test('seven or more of a mean of one has probability 8.3241e-5 (SciPy 1.10)', () => {
  expect(poissonTail(7, 1)).toBeCloseTo(8.3241e-5, 9);
  expect(poissonTail(7, 1) + poissonCdf(6, 1)).toBeCloseTo(1, 12);
});

test('a large-mean Poisson cdf keeps its digits: P(N <= 1000 | 1010.5) = 0.3783', () => {
  expect(poissonCdf(1000, 1010.5)).toBeCloseTo(0.3783, 4);
});

// Garwood 1936, as recomputed with SciPy 1.10 chi2.ppf; the upper limit 3.689 for no count is in every table.
test.each([
  [0, 0.95, 0, 3.6889],
  [1, 0.95, 0.0253, 5.5716],
  [3, 0.9, 0.8177, 7.7537],
  [10, 0.95, 4.7954, 18.3904],
  [100, 0.99, 76.1205, 128.7606],
])('%i counts, confidence %d: Garwood interval %d to %d', (count, confidence, lower, upper) => {
  const interval = garwoodInterval(count, confidence);
  expect(interval.lower).toBeCloseTo(lower, 4);
  expect(interval.upper).toBeCloseTo(upper, 4);
});

// SciPy 1.10: chi2.ppf(0.025, 2n) / 2 and chi2.ppf(0.975, 2n + 2) / 2. The two forms meet at 1000 without a step.
test.each([
  [1000, 938.973, 1063.9521],
  [5000, 4862.3592, 5140.5489],
])('%i counts, 95 %%: Garwood interval %d to %d', (count, lower, upper) => {
  const interval = garwoodInterval(count, 0.95);
  expect(Math.abs(interval.lower - lower)).toBeLessThan(0.01);
  expect(Math.abs(interval.upper - upper)).toBeLessThan(0.01);
});

test('a tail too small for a double is nought, and the last that is not keeps its digits', () => {
  expect(chiSquareTail(5000, 33)).toBe(0);
  expect(poissonTail(900, 1)).toBe(0);
  expect(poissonTail(2, 900)).toBe(1);
  expect(poissonCdf(3, 2000)).toBe(0);
  // exp(-x / 2) with two degrees of freedom.
  expect(chiSquareTail(1300, 2) / Math.exp(-650)).toBeCloseTo(1, 9);
});
