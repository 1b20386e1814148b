import { expect, test } from 'vitest';
import type { Vec3 } from '../maths/vec3.ts';
import { assessRegistration } from './assessRegistration.ts';
import { benchRun, chessboardWith, RIG, trueRig } from './bench.fixture.ts';
import { calibrateRig } from './calibrateRig.ts';

const FIVE: readonly Vec3[] = [
  [-0.45, -0.3, -0.02],
  [0.05, -0.32, -0.02],
  [0.46, 0.05, -0.02],
  [0.2, 0.31, -0.02],
  [-0.4, 0.2, -0.02],
];

test.each([
  ['one lamp', FIVE.slice(1, 2), 51],
  ['five lamps', FIVE, 52],
] as const)(
  'a chessboard with %s calibrates the pair: the overlay is right at ranges that no sweep had',
  (_, lamps, seed) => {
    const truth = trueRig(seed);
    const run = benchRun(seed, truth, [8, 13, 24], 0.06, 0.05, 25, chessboardWith(lamps));
    const outcome = calibrateRig(RIG, run);
    if (outcome.kind === 'refused') throw new Error(outcome.because);
    expect(outcome.weaknesses).toEqual([]);
    const errors = assessRegistration(
      { ...outcome.registration, hash: '' },
      truth,
      [15, 40, Number.POSITIVE_INFINITY],
      null,
    );
    // The tolerance of a survey; five lamps in every view do better than one.
    for (const { rmsPx } of errors) expect(rmsPx).toBeLessThan(lamps.length === 1 ? 0.3 : 0.15);
    const { noiseFloorPx } = outcome.statistics;
    // 0.06 px of 2000 px in the one image is 0.072 px in the other; the pattern's own pose adds little.
    expect(noiseFloorPx).toBeGreaterThan(0.09);
    expect(noiseFloorPx).toBeLessThan(0.14);
  },
);
