import fc from 'fast-check';
import { expect, test } from 'vitest';
import { randomFrom } from '../maths/random.ts';
import {
  catenaryFromParameter,
  catenaryFromSag,
  catenaryFromTension,
  catenaryThroughPoints,
  heightAt,
  sagAtMiddle,
  sagThroughPoints,
  sampleX,
  tensionAt,
  wireLength,
} from './catenary.ts';

// Closed forms of the catenary evaluated in numpy 1.24: span, horizontal tension, weight per length, rise -> parameter,
// sag below the middle of the chord, length, largest tension. The last row is in feet and pounds.
test.each([
  [300, 20000, 10, 0, 2000, 5.62764, 300.28133, 20056.28],
  [400, 30000, 15.97, 0, 1878.522, 10.65673, 400.75611, 30170.19],
  [400, 30000, 15.97, 50, 1878.522, 10.73935, 403.86316, 30803.35],
  [600, 6300, 1.094, 0, 5758.684, 7.8161, 600.2714, 6308.55],
])(
  'a span of %d with tension %d, weight %d and rise %d hangs as the catenary says',
  (span, h, w, rise, c, sag, length, tMax) => {
    const curve = catenaryFromTension(span, rise, h, w);
    expect(curve.parameterM).toBeCloseTo(c, 3);
    // Half a digit of what is printed.
    expect(Math.abs(sagAtMiddle(curve) - sag)).toBeLessThan(6e-5);
    expect(Math.abs(wireLength(curve) - length)).toBeLessThan(6e-5);
    expect(Math.abs(Math.max(tensionAt(curve, 0, w), tensionAt(curve, span, w)) - tMax)).toBeLessThan(0.006);
  },
);

test('with a rise of 50 m over 400 m the low point lies 33.768 m before the lower support', () => {
  expect(catenaryFromTension(400, 50, 30000, 15.97).lowXM).toBeCloseTo(-33.768, 3);
});

test('supports 30 and 90 m above water, 300 m, 2000 kg, 1 kg/m: the textbook parabola gives 54.375 m at mid-span', () => {
  // C. L. Wadhwa, Electrical Power Systems, example 7.4 (open companion): by parabola, 250 m to the low point outside.
  const curve = catenaryFromTension(300, 60, 2000, 1);
  // The catenary itself hangs a little deeper than the parabola: L^4/384 C^3 and the slope's share, under 0.15 m here.
  expect(Math.abs(30 + heightAt(curve, 150) - 54.375)).toBeLessThan(0.15);
  expect(30 + heightAt(curve, 150)).toBeLessThan(54.375);
  expect(Math.abs(curve.lowXM - -250)).toBeLessThan(5);
});

test('250 m with a sag of 2 m and 2879 kg weighs 184.29 kg', () => {
  // A. Chakrabarti et al., A Text Book on Power System Engineering, example 5.1 (open companion), by parabola: 0.737024 kg/m.
  const curve = catenaryFromSag(250, 0, 2);
  // Parabola and catenary differ by (L / C)^2 / 48 = 8e-5 relative here.
  expect(2879 / curve.parameterM / 0.737024).toBeCloseTo(1, 3);
  expect(((2879 / curve.parameterM) * 250) / 184.29).toBeCloseTo(1, 3);
});

test('a catenary made from its sag has that sag, whatever the rise', () => {
  fc.assert(
    fc.property(
      fc.double({ min: 20, max: 1500, noNaN: true }),
      fc.double({ min: -0.5, max: 0.5, noNaN: true }),
      fc.double({ min: 1e-4, max: 0.4, noNaN: true }),
      (span, slope, sagShare) => {
        const curve = catenaryFromSag(span, slope * span, sagShare * span);
        // Measured from the curve itself, not from the formula that made it.
        const sag = (slope * span) / 2 - heightAt(curve, span / 2);
        expect(Math.abs(sag / (sagShare * span) - 1)).toBeLessThan(1e-9);
        expect(Math.abs(heightAt(curve, span) - slope * span)).toBeLessThan(1e-9 * span);
        expect(heightAt(curve, 0)).toBeCloseTo(0, 12);
      },
    ),
    { seed: 8, numRuns: 300 },
  );
});

test('the curve obeys z" = sqrt(1 + z\'^2) / C, which is what hanging means', () => {
  const curve = catenaryFromParameter(350, -22, 1430);
  for (const x of [10, 150, 320]) {
    const h = 0.5;
    const slope = (heightAt(curve, x + h) - heightAt(curve, x - h)) / (2 * h);
    const bend = (heightAt(curve, x + h) - 2 * heightAt(curve, x) + heightAt(curve, x - h)) / (h * h);
    // Differences over 0.5 m err by h^2/12 C^2 = 1e-8 relative, and by rounding of 20 m over h^2: 1e-14 / 7e-4 = 2e-11.
    expect((bend * 1430) / Math.hypot(1, slope)).toBeCloseTo(1, 7);
  }
});

test('a wire without sag is a straight line', () => {
  const curve = catenaryFromSag(120, 30, 0);
  expect(heightAt(curve, 40)).toBeCloseTo(10, 12);
  expect(wireLength(curve)).toBeCloseTo(Math.hypot(120, 30), 12);
  expect(sampleX(curve, 0.001)).toEqual([0, 120]);
});

test('straight pieces keep within the chord error asked for, and are not twice as many as needed', () => {
  const curve = catenaryFromParameter(420, 35, 900);
  const x = sampleX(curve, 0.001);
  const worst = x.slice(1).map((to, i) => {
    const from = x[i];
    const slope = (heightAt(curve, to) - heightAt(curve, from)) / (to - from);
    const middle = (from + to) / 2;
    return (heightAt(curve, from) + slope * (middle - from) - heightAt(curve, middle)) / Math.hypot(1, slope);
  });
  expect(Math.max(...worst)).toBeLessThan(0.001001);
  expect(Math.max(...worst)).toBeGreaterThan(0.0009);
});

test('points measured on a wire give back its catenary within their noise, seed 3', () => {
  const random = randomFrom(3);
  const curve = catenaryFromParameter(300, 12, 1250);
  const points = Array.from({ length: 400 }, (_, i) => {
    const x = (300 * i) / 399;
    return [x, heightAt(curve, x) + 0.03 * random.normal()] as const;
  });
  const fit = catenaryThroughPoints(points);
  if (fit.kind !== 'fitted') throw new Error(fit.because);
  // Curvature from 400 points: sigma_c / c = 0.03 * sqrt(180/400) / (300^2 / (2 * 1250)) = 5.6e-4; four of these.
  expect(Math.abs(fit.parameterM / 1250 - 1)).toBeLessThan(2.3e-3);
  expect(fit.rmsM).toBeGreaterThan(0.026);
  expect(fit.rmsM).toBeLessThan(0.034);
  const sagging = catenaryFromParameter(300, 12, fit.parameterM);
  expect(Math.abs(sagAtMiddle(sagging) - sagAtMiddle(curve))).toBeLessThan(0.02);
});

test('a few points between known ends give the sag, wherever they lie', () => {
  const curve = catenaryFromSag(280, -14, 7.4);
  const points = [60, 95, 110].map((x) => [x, heightAt(curve, x)] as const);
  const fit = sagThroughPoints(280, -14, points);
  if (fit.kind !== 'fitted') throw new Error(fit.because);
  expect(fit.sagM).toBeCloseTo(7.4, 6);
  expect(fit.rmsM).toBeLessThan(1e-6);
  expect(sagThroughPoints(280, -14, [[140, 3]])).toEqual({ kind: 'refused', because: 'points do not hang' });
  expect(sagThroughPoints(280, -14, [[300, -30]])).toEqual({ kind: 'refused', because: 'no points between the ends' });
});

test('points that arch upwards or are too few are no hanging wire', () => {
  expect(
    catenaryThroughPoints([
      [0, 0],
      [1, 1],
      [2, 1],
      [3, 0],
    ]),
  ).toEqual({ kind: 'refused', because: 'points do not hang' });
  expect(
    catenaryThroughPoints([
      [0, 0],
      [1, 1],
    ]),
  ).toEqual({ kind: 'refused', because: 'too few points' });
});
