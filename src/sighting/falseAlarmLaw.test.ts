import { expect, test } from 'vitest';
import { type Random, randomFrom } from '../maths/random.ts';
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
  // Slope from 30 exceedances and as much of prior: 13 %, over 3.4 e-foldings a factor of 1.6; the factor 3 is two and a half sigmas.
  expect(within).toBeGreaterThanOrEqual(46);
});

/** Mean over flights of the true rate at the threshold for one an hour, from two hours of maxima each, 100 an hour above 12. */
function meanRateAllowed(survival: (ratio: number) => number, draw: (random: Random) => number): number {
  let sum = 0;
  for (let seed = 1; seed <= 300; seed++) {
    const random = randomFrom(seed);
    const ratios = Array.from({ length: random.poisson(200) }, () => draw(random));
    sum += 100 * survival(thresholdFor(fitFalseAlarmLaw(ratios, 2, 12), 1));
  }
  return sum / 300;
}

test.each([
  [0.8, 0.9, 1.1],
  // Where the tail is another than expected beforehand, half of the difference remains over three e-foldings.
  [0.65, 1, 1.5],
  [1, 0.65, 1],
])(
  'over many flights the mean rate of false alarms is about the one allowed for a tail of slope %f, seeds 1 to 300',
  (slope, least, most) => {
    const rate = meanRateAllowed(
      (ratio) => Math.exp(-slope * (ratio - 12)),
      (random) => 12 + random.exponential() / slope,
    );
    expect(rate).toBeGreaterThan(least);
    expect(rate).toBeLessThan(most);
  },
);

test('a tail that is flat where four rays cross and steep beyond does not let more false alarms through than allowed, seeds 1 to 300', () => {
  // As measured without sources at 1280 x 1024: falls by exp(-0.4 L) up to 18, by exp(-1.6 L) from there.
  const survival = (ratio: number): number =>
    Math.exp(-0.4 * (Math.min(ratio, 18) - 12) - 1.6 * Math.max(0, ratio - 18));
  const rate = meanRateAllowed(survival, (random) => {
    const depth = random.exponential();
    return depth < 2.4 ? 12 + depth / 0.4 : 18 + (depth - 2.4) / 1.6;
  });
  expect(rate).toBeLessThan(1);
  expect(rate).toBeGreaterThan(0.15);
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
