import { expect, test } from 'vitest';
import { randomFrom } from '../maths/random.ts';
import { contourLines } from './contourLines.ts';
import { bandwidthPx, contourLevels, photonDensity } from './photonDensity.ts';

const window = { leftPx: 100, topPx: 40, widthPx: 120, heightPx: 90 };

test('the density of events inside the picture integrates to their number', () => {
  const events = [140.2, 71.9, 163, 88.25, 155.5, 80.75];
  const density = photonDensity(events, window, 4);
  const total = density.values.reduce((sum, value) => sum + value, 0) * density.stepPx ** 2;
  // The trapezoid sum of a Gaussian at three nodes a sigma is exact to 1e-9; the cut at five sigma takes 4e-6.
  expect(total).toBeCloseTo(3, 4);
});

test('many events of a round spot have contours at the radii of the spot widened by the kernel', () => {
  const random = randomFrom(20260514);
  const sigma = 5;
  const kernel = 2;
  const events: number[] = [];
  for (let n = 0; n < 40_000; n++) events.push(160 + sigma * random.normal(), 85 + sigma * random.normal());
  const density = photonDensity(events, window, kernel);
  const peak = 40_000 / (2 * Math.PI * (sigma ** 2 + kernel ** 2));
  const line = contourLines(density, peak / 2)
    .map(({ points }) => points)
    .sort((a, b) => b.length - a.length)[0]!;
  const radii: number[] = [];
  for (let k = 0; k < line.length; k += 2)
    radii.push(
      Math.hypot(density.leftPx + density.stepPx * line[k]! - 160, density.topPx + density.stepPx * line[k + 1]! - 85),
    );
  const mean = radii.reduce((sum, r) => sum + r, 0) / radii.length;
  // About 100 events under each kernel at the line give 2 % in density and so 1 % in radius; averaged round the circle less.
  expect(mean / (Math.hypot(sigma, kernel) * Math.sqrt(2 * Math.LN2))).toBeCloseTo(1, 1.7);
});

test('the kernel is never narrower than the overlay is known, and shrinks as events come in', () => {
  const random = randomFrom(7);
  const spot = (n: number) => Array.from({ length: 2 * n }, (_, k) => (k % 2 ? 80 : 150) + 9 * random.normal());
  const few = bandwidthPx(spot(12), [150, 80], 0.4);
  const many = bandwidthPx(spot(5000), [150, 80], 0.4);
  expect(many).toBeLessThan(few);
  expect(bandwidthPx(spot(5000), [150, 80], 3)).toBeGreaterThanOrEqual(3);
  // Scott's factor for 5000 events is 0.242; the spread of 9 px is known from the median to about 1 %.
  const wide = Array.from({ length: 10_000 }, (_, k) => (k % 2 ? 80 : 150) + 9 * random.normal());
  expect(bandwidthPx(wide, [150, 80], 0.4) / Math.hypot(9 * 5000 ** (-1 / 6), 0.4)).toBeCloseTo(1, 1);
});

test('no contour is drawn round a background event that stands alone', () => {
  const events: number[] = [200, 110];
  for (let n = 0; n < 9; n++) events.push(150 + (n % 3), 80 + Math.floor(n / 3));
  const kernel = 3;
  const density = photonDensity(events, window, kernel);
  for (const level of contourLevels(density, kernel))
    for (const { points } of contourLines(density, level))
      expect(density.leftPx + density.stepPx * points[0]!).toBeLessThan(180);
});
