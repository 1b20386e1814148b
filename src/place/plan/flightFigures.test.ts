import { expect, test } from 'vitest';
import { radFromDeg } from '../../maths/angle.ts';
import { errorBudget } from './errorBudget.ts';
import { parallaxPx, rangeNeededM } from './parallax.ts';
import { smearByTurnPx, smearByWayPx } from './smear.ts';

test('a millisecond at 20 m/s, survey-grade angles and half a pixel add up to 0.0451 m at 40 m', () => {
  const budget = errorBudget({
    rangeM: 40,
    speedMps: 20,
    turnRadps: 0,
    focalPx: 2000,
    gnssM: 0.03,
    tiltRad: radFromDeg(0.01),
    headingRad: radFromDeg(0.03),
    boresightRad: radFromDeg(0.01),
    leverArmM: 0.01,
    timeS: 1e-3,
    pixelPx: 0.5,
  });
  // Worked by hand; each part is printed to 0.1 mm.
  const byHand = [0.03, 0.007, 0.0209, 0.007, 0.01, 0.02, 0, 0.01];
  budget.parts.forEach((part, i) => {
    expect(Math.abs(part.sigmaM - byHand[i])).toBeLessThan(5.1e-5);
  });
  expect(Math.abs(budget.acrossM - 0.0451)).toBeLessThan(5e-5);
});

test.each([
  [15, 12.5],
  [20, 7.5],
  [30, 2.5],
  [60, -2.5],
  [100, -4.5],
  [Number.POSITIVE_INFINITY, -7.5],
])('cameras 0.15 m apart, laid over each other at 40 m, disagree at %f m by %f px', (rangeM, byHandPx) => {
  expect(parallaxPx(2000, 0.15, rangeM, 40)).toBeCloseTo(byHandPx, 9); // exact arithmetic, rounding alone
});

test('0.3 px ask for a range known to 1.6 m at 40 m and to 0.225 m at 15 m', () => {
  expect(rangeNeededM(2000, 0.15, 40, 0.3)).toBeCloseTo(1.6, 9);
  expect(rangeNeededM(2000, 0.15, 15, 0.3)).toBeCloseTo(0.225, 9);
});

test('20 ms smear a point over 20 px at 20 m/s from 40 m, and over 20.9 px at 30 degrees a second', () => {
  expect(smearByWayPx(2000, 20, 0.02, 40)).toBeCloseTo(20, 9);
  expect(smearByTurnPx(2000, radFromDeg(30), 0.02)).toBeCloseTo(20.944, 3); // 2000 * pi / 6 * 0.02
});
