import { expect, test } from 'vitest';
import { poissonTail } from '../maths/distributions.ts';
import { randomFrom } from '../maths/random.ts';
import { fitDetectionCurve, intervalOfRate, rateFoundOnCurve, wilsonInterval } from './detectionCurve.ts';

/** A source that shows when a count of mean rate / 1000 reaches 7: found with 95 % at 11,842 (Poisson table: mean 11.842). */
const RATE_95 = 11_842;

const trialsOf = (seed: number, trials: number) => {
  const random = randomFrom(seed);
  return [4000, 6000, 8000, 10_000, 12_000, 14_000].map((rateHz) => ({
    rateHz,
    trials,
    found: random.binomial(trials, poissonTail(7, rateHz / 1000)),
  }));
};

test('the rate found with 95 % is recovered from trials about it, without bias and inside its interval, seeds 1 to 10', () => {
  expect(poissonTail(7, RATE_95 / 1000)).toBeCloseTo(0.95, 4);
  let logSum = 0;
  let inside = 0;
  for (let seed = 1; seed <= 10; seed++) {
    const points = trialsOf(seed, 60);
    const curve = fitDetectionCurve(points);
    if (!curve) throw new Error('a curve');
    logSum += Math.log(rateFoundOnCurve(curve, 0.95) / RATE_95);
    const interval = intervalOfRate(points, curve, 0.95, randomFrom(seed), 40);
    if (interval && interval.lower <= RATE_95 && RATE_95 <= interval.upper) inside++;
  }
  // One fit scatters by 8 %; the mean of ten by 2.5 %.
  expect(Math.abs(logSum / 10)).toBeLessThan(0.07);
  // 9.5 expected of 10; 7 or fewer happen in 1 % at 95 %.
  expect(inside).toBeGreaterThanOrEqual(8);
});

test('trials that always or never found the source have no curve', () => {
  expect(fitDetectionCurve([{ rateHz: 1000, trials: 10, found: 10 }])).toBe(null);
  expect(fitDetectionCurve([{ rateHz: 1000, trials: 10, found: 0 }])).toBe(null);
});

test("Wilson's interval of 81 hits in 263 is 0.2553 to 0.3662, as Newcombe (1998) prints it", () => {
  const [lower, upper] = wilsonInterval(81, 263);
  expect(lower).toBeCloseTo(0.2553, 4);
  expect(upper).toBeCloseTo(0.3662, 4);
});
