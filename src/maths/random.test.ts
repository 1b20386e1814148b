import { expect, test } from 'vitest';
import { randomFrom } from './random.ts';

const N = 40_000;
const momentsOf = (draw: () => number) => {
  let sum = 0;
  let squares = 0;
  for (let i = 0; i < N; i++) {
    const x = draw();
    sum += x;
    squares += x * x;
  }
  return { mean: sum / N, variance: squares / N - (sum / N) ** 2 };
};

test('the same seed gives the same numbers, a neighbouring seed others', () => {
  const three = (seed: number) => Array.from({ length: 3 }, randomFrom(seed).uniform);
  expect(three(7)).toEqual(three(7));
  expect(three(7)).not.toEqual(three(8));
});

// Five standard errors of the sample mean, sqrt(variance / N), and of the sample variance (normal-theory bound x 3).
test.each([
  ['Poisson 0.3', 0.3, 0.3, (r: ReturnType<typeof randomFrom>) => r.poisson(0.3)],
  ['Poisson 12', 12, 12, (r: ReturnType<typeof randomFrom>) => r.poisson(12)],
  ['Poisson 400', 400, 400, (r: ReturnType<typeof randomFrom>) => r.poisson(400)],
  ['gamma 0.5', 0.5, 0.5, (r: ReturnType<typeof randomFrom>) => r.gamma(0.5)],
  ['gamma 4', 4, 4, (r: ReturnType<typeof randomFrom>) => r.gamma(4)],
  ['exponential', 1, 1, (r: ReturnType<typeof randomFrom>) => r.exponential()],
  ['normal', 0, 1, (r: ReturnType<typeof randomFrom>) => r.normal()],
] as const)('%s has the mean and the variance of its law, seed 11', (_, mean, variance, draw) => {
  const random = randomFrom(11);
  const seen = momentsOf(() => draw(random));
  expect(Math.abs(seen.mean - mean)).toBeLessThan(5 * Math.sqrt(variance / N));
  expect(Math.abs(seen.variance / variance - 1)).toBeLessThan(0.1);
});
