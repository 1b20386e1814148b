import { expect, test } from 'vitest';
import { randomFrom } from '../maths/random.ts';
import { fitOneSpot } from './fitOneSpot.ts';
import { fitSpots } from './fitSpots.ts';
import { bellInto, SpotWindow } from './SpotWindow.ts';

function windowWith(spot: { xPx: number; yPx: number; charge: number }, seed: number): SpotWindow {
  const random = randomFrom(seed);
  const window = new SpotWindow();
  window.setBox(100, 57, 106, 63);
  for (let k = 0; k < 49; k++) {
    const [x, y] = [100 + (k % 7), 57 + Math.floor(k / 7)];
    window.signal[k] =
      (spot.charge / (2 * Math.PI * 1.7)) * Math.exp(-((x - spot.xPx) ** 2 + (y - spot.yPx) ** 2) / 3.4) +
      1.3 * random.normal();
    window.variance[k] = 1.2 + random.uniform();
  }
  return window;
}

test.each([51, 52, 53, 54, 55, 56])(
  'one spot fitted alone is what the fit of several gives for one, seed %i',
  (seed) => {
    const random = randomFrom(seed);
    const window = windowWith(
      { xPx: 102.5 + random.uniform(), yPx: 59.5 + random.uniform(), charge: 40 + 300 * random.uniform() },
      seed,
    );
    // A corner that takes no part, as where a box holds the surroundings of two peaks.
    window.signal[6] = 0;
    window.variance[6] = Number.POSITIVE_INFINITY;
    const alone = fitOneSpot(window, 103, 60, 1.27);
    const one = fitSpots(window, [{ xPx: 103, yPx: 60 }], 1.27);
    // Both stop at a step below 1e-3 px and go through the same steps: rounding alone tells them apart.
    for (const name of ['xPx', 'yPx', 'charge', 'sigmaPx'] as const)
      expect(alone!.spots[0][name]).toBeCloseTo(one!.spots[0][name], 9);
    expect(alone!.chiSquare).toBeCloseTo(one!.chiSquare, 8);
  },
);

test('a bell made of ratios is the exponential function, near its middle and far from it', () => {
  const bell = new Float64Array(90);
  for (const [first, s2] of [
    [-4.3, 1.77],
    [-71.2, 1.1],
    [2.7, 2.6],
    [-300, 1.7],
    [-4, 1 / 12],
  ]) {
    bellInto(bell, 90, first, s2);
    for (let k = 0; k < 90; k++) {
      const exact = Math.exp(-((first + k) ** 2) / (2 * s2));
      // Rounding grows with the square of the steps from the middle; values below 1e-280 lose bits to underflow.
      if (exact > 1e-280) expect(Math.abs(bell[k] / exact - 1)).toBeLessThan(1e-11);
      else expect(bell[k]).toBeLessThan(1e-270);
    }
  }
});
