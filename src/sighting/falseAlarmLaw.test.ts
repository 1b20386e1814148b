import { expect, test } from 'vitest';
import { randomFrom } from '../maths/random.ts';
import { falseAlarmsPerHour, fitFalseAlarmLaw, thresholdFor } from './falseAlarmLaw.ts';

test('from an hour of chance maxima with a known tail, the threshold for one an hour is right within a factor of 3, seeds 1 to 50', () => {
  // 2000 maxima an hour above a ratio of 9, falling as exp(-0.9 L): the true rate at L is 2000 exp(-0.9 (L - 9)).
  let within = 0;
  for (let seed = 1; seed <= 50; seed++) {
    const random = randomFrom(seed);
    const ratios = Array.from({ length: random.poisson(2000) }, () => 9 + random.exponential() / 0.9);
    const threshold = thresholdFor(fitFalseAlarmLaw(ratios, 1, 9), 1);
    const trueRate = 2000 * Math.exp(-0.9 * (threshold - 9));
    if (trueRate > 1 / 3 && trueRate < 3) within++;
  }
  // Slope from 100 exceedances: 10 %, over 3.3 e-foldings a factor of 1.4; three times that is two and a half sigmas.
  expect(within).toBeGreaterThanOrEqual(46);
});

test('over many flights, some with a slope measured too steep, the mean rate of false alarms is the one allowed, seeds 1 to 300', () => {
  let sum = 0;
  for (let seed = 1; seed <= 300; seed++) {
    const random = randomFrom(seed);
    const ratios = Array.from({ length: random.poisson(600) }, () => 9 + random.exponential());
    const threshold = thresholdFor(fitFalseAlarmLaw(ratios, 0.15, 9), 1);
    sum += (600 / 0.15) * Math.exp(-(threshold - 9));
  }
  // The rates scatter by half of their mean: 3 % on the mean of 300. With the best slope alone the mean is 1.11.
  expect(Math.abs(sum / 300 - 1)).toBeLessThan(0.1);
});

test('the threshold is the ratio at which the law gives the rate allowed', () => {
  const law = fitFalseAlarmLaw([9.4, 9.9, 10.7, 11.3, 12.9], 0.2, 9);
  for (const allowed of [0.1, 1, 5])
    expect(falseAlarmsPerHour(law, thresholdFor(law, allowed))).toBeCloseTo(allowed, 9);
});

test('a flight whose copies gave no chance maximum still has a law, and it allows none for free', () => {
  const law = fitFalseAlarmLaw([], 0.25, 9);
  expect(law.perHour).toBe(2); // half an event in a quarter of an hour
  expect(thresholdFor(law, 0.01)).toBeGreaterThan(9);
});
