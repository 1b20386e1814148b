import { expect, test } from 'vitest';
import { randomFrom } from '../maths/random.ts';
import { inventWorld } from './inventWorld.ts';
import { directionOf, seenAt, type TrueLens } from './TrueLens.ts';

const LENS: TrueLens = {
  widthPx: 1280,
  heightPx: 1024,
  fxPx: 1000,
  fyPx: 1000,
  cxPx: 640,
  cyPx: 512,
  k1: -0.2,
  k2: 0.05,
  p1: 0.001,
  p2: -0.0005,
  k3: 0.01,
};

test('a point is seen where OpenCV projects it', () => {
  // OpenCV 4.6.0, projectPoints of (0.4, -0.3, 2) with this K and (k1, k2, p1, p2, k3).
  const px = seenAt(LENS, [0.4, -0.3, 2])!;
  expect(px[0]).toBeCloseTo(837.4083007813, 9);
  expect(px[1]).toBeCloseTo(363.9828369141, 9);
});

test('the direction of a pixel leads back to it, over both pictures of six invented rigs', () => {
  for (let seed = 1; seed <= 6; seed++) {
    const { uvLens, colourLens } = inventWorld(seed).rig;
    const random = randomFrom(seed);
    for (const lens of [uvLens, colourLens]) {
      for (let i = 0; i < 50; i++) {
        const px = [random.uniform() * lens.widthPx, random.uniform() * lens.heightPx] as const;
        const [x, y] = directionOf(lens, px[0], px[1]);
        const back = seenAt(lens, [7 * x, 7 * y, 7])!;
        // The iteration stops at steps of 1e-10 in the tangent, and may have ten such steps left.
        expect(Math.hypot(back[0] - px[0], back[1] - px[1])).toBeLessThan(2e-6);
      }
    }
  }
});

test('what is behind a camera is not seen', () => {
  expect(seenAt(LENS, [0.1, 0.2, -1])).toBeNull();
  expect(seenAt(LENS, [0.1, 0.2, 0])).toBeNull();
});
