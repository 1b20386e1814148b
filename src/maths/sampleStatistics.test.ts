import { expect, test } from 'vitest';
import { mean, quantile } from './sampleStatistics.ts';

test('quantiles are those of NumPy 1.24 with its default, linear interpolation', () => {
  const values = [7, 1, 4, 9, 2]; // numpy.quantile([7, 1, 4, 9, 2], [0.1, 0.5, 0.95]) = 1.4, 4.0, 8.6
  expect([0.1, 0.5, 0.95].map((p) => Number(quantile(values, p).toFixed(12)))).toEqual([1.4, 4, 8.6]);
  expect(quantile([], 0.5)).toBeNaN();
});

test('the mean of a typed array is that of its numbers', () => expect(mean(Float32Array.of(1, 2, 6))).toBe(3));
