import { expect, test } from 'vitest';
import { randomFrom } from '../maths/random.ts';
import { fitOneSpot, fitSpots, type SpotWindow } from './fitSpots.ts';

function windowWith(spot: { xPx: number; yPx: number; charge: number }, seed: number): SpotWindow {
  const random = randomFrom(seed);
  const at = Array.from({ length: 49 }, (_, k) => [100 + (k % 7), 57 + Math.floor(k / 7)]);
  return {
    leftPx: 100,
    topPx: 57,
    columns: 7,
    rows: 7,
    count: 49,
    x: Float64Array.from(at, ([x]) => x),
    y: Float64Array.from(at, ([, y]) => y),
    signal: Float64Array.from(
      at,
      ([x, y]) =>
        (spot.charge / (2 * Math.PI * 1.7)) * Math.exp(-((x - spot.xPx) ** 2 + (y - spot.yPx) ** 2) / 3.4) +
        1.3 * random.normal(),
    ),
    variance: Float64Array.from({ length: 49 }, () => 1.2 + random.uniform()),
  };
}

test.each([51, 52, 53, 54, 55, 56])(
  'one spot fitted alone is what the fit of several gives for one, seed %i',
  (seed) => {
    const random = randomFrom(seed);
    const window = windowWith(
      { xPx: 102.5 + random.uniform(), yPx: 59.5 + random.uniform(), charge: 40 + 300 * random.uniform() },
      seed,
    );
    const alone = fitOneSpot(window, { xPx: 103, yPx: 60 }, 1.27);
    const one = fitSpots(window, [{ xPx: 103, yPx: 60 }], 1.27);
    // Both stop at a step below 1e-4 px and go through the same steps: rounding alone tells them apart.
    for (const name of ['xPx', 'yPx', 'charge', 'sigmaPx'] as const)
      expect(alone!.spots[0][name]).toBeCloseTo(one!.spots[0][name], 9);
    expect(alone!.chiSquare).toBeCloseTo(one!.chiSquare, 8);
    expect(alone!.residual[17]).toBeCloseTo(one!.residual[17], 9);
  },
);
