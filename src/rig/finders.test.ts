import { expect, test } from 'vitest';
import { type Random, randomFrom } from '../maths/random.ts';
import { findDiscs } from './findDiscs.ts';
import { findLamps, type LampOptics, learnBackground } from './findLamps.ts';

const W = 96;
const H = 80;
const OPTICS: LampOptics = { saturationLevel: 4095, spotSigmaPx: 1.3, blurSigmaPx: 0.9, meanChargeDn: 40 };

/** Photon events of random charge, scattered about each lamp, each a spot: not the model that is fitted, but its cause. */
function uvFrame(random: Random, lamps: { u: number; v: number; events: number }[], limit = 4095) {
  const signal = new Float64Array(W * H).map(() => 60 + 6 * random.normal());
  for (const { u, v, events } of lamps)
    for (let i = random.poisson(events); i > 0; i--) {
      const x = u + OPTICS.blurSigmaPx * random.normal();
      const y = v + OPTICS.blurSigmaPx * random.normal();
      const peak = (OPTICS.meanChargeDn * random.gamma(2.8)) / 2.8 / (2 * Math.PI * 1.3 ** 2);
      for (let j = Math.max(0, Math.round(y) - 7); j <= Math.min(H - 1, Math.round(y) + 7); j++)
        for (let k = Math.max(0, Math.round(x) - 7); k <= Math.min(W - 1, Math.round(x) + 7); k++)
          signal[j * W + k] += peak * Math.exp(-((k - x) ** 2 + (j - y) ** 2) / (2 * 1.3 ** 2));
    }
  return {
    widthPx: W,
    heightPx: H,
    data: Uint16Array.from(signal, (s) => Math.max(0, Math.min(limit, Math.round(s)))),
  };
}

const backgroundOf = (random: Random) => learnBackground(Array.from({ length: 9 }, () => uvFrame(random, [])));

test.each([
  [30, 4095],
  [300, 4095],
  [2500, 4095],
  [2500, 1200],
])(
  'a lamp of %i events at a limit of %i DN is placed within 1.2 times what its events allow, seed 31',
  (events, limit) => {
    const random = randomFrom(31);
    const background = backgroundOf(random);
    let squares = 0;
    let stated = 0;
    const runs = 60;
    for (let i = 0; i < runs; i++) {
      const u = 40 + random.uniform();
      const v = 35 + random.uniform();
      const [spot] = findLamps(
        uvFrame(random, [{ u, v, events }], limit),
        background,
        { ...OPTICS, saturationLevel: limit },
        3,
      );
      squares += ((spot.u - u) ** 2 + (spot.v - v) ** 2) / 2;
      stated += spot.sigmaPx ** 2;
      if (limit < 4095) expect(spot.saturatedPx).toBeGreaterThan(5);
    }
    // Bound: charge-weighted mean of scattered events, excess noise of gamma(2.8) pulse heights 1 + 1/2.8, and read noise of
    // 6 DN through the Gaussian's derivative (Mortensen et al. 2010, large-background limit). 1.1 more for 60 runs' scatter.
    const radius = Math.hypot(1.3, 0.9);
    const charge = events * OPTICS.meanChargeDn;
    const bound = (0.9 ** 2 * (1 + 1 / 2.8)) / events + (8 * Math.PI * radius ** 4 * 36) / charge ** 2;
    expect(Math.sqrt(squares / runs / bound)).toBeLessThan(1.2 * 1.1);
    expect(Math.sqrt(stated / squares)).toBeGreaterThan(0.75);
    expect(Math.sqrt(stated / squares)).toBeLessThan(1.35);
  },
);

test('of lamps of sixty photons that fall into single pixels none is missed, empty middle pixel or not, seed 33', () => {
  const random = randomFrom(33);
  const background = backgroundOf(random);
  const optics = { ...OPTICS, spotSigmaPx: 0.5, blurSigmaPx: 1.4 };
  let squares = 0;
  const runs = 60;
  for (let i = 0; i < runs; i++) {
    const [u, v] = [40 + random.uniform(), 35 + random.uniform()];
    const frame = uvFrame(random, []);
    for (let k = random.poisson(60); k > 0; k--)
      frame.data[Math.round(v + 1.49 * random.normal()) * W + Math.round(u + 1.49 * random.normal())] += 40;
    const spots = findLamps(frame, background, optics, 3);
    expect(spots.length).toBeGreaterThan(0);
    squares += ((spots[0].u - u) ** 2 + (spots[0].v - v) ** 2) / 2;
  }
  // 1.49 px over the root of 60; 1.2 of it is asked for, and 60 runs scatter by 6 %.
  expect(Math.sqrt(squares / runs) / (1.49 / Math.sqrt(60))).toBeLessThan(1.2 * 1.06);
});

test('two lamps of unlike brightness, five pixels apart, are told apart without pulling each other, seed 32', () => {
  const random = randomFrom(32);
  const background = backgroundOf(random);
  const mean = [0, 0];
  for (let i = 0; i < 30; i++) {
    const spots = findLamps(
      uvFrame(random, [
        { u: 40.2, v: 40, events: 800 },
        { u: 45.4, v: 40.3, events: 500 },
      ]),
      background,
      OPTICS,
      5,
    );
    expect(spots.length).toBe(2);
    mean[0] += spots[0].u / 30;
    mean[1] += spots[1].u / 30;
  }
  // 0.9 px / sqrt(500 · 30) is 0.01 px; five times that, for shared tails.
  expect(Math.abs(mean[0] - 40.2)).toBeLessThan(0.05);
  expect(Math.abs(mean[1] - 45.4)).toBeLessThan(0.05);
});

test('a fainter lamp on the flank of a bright one, four pixels away, is told apart, and one lamp is never split, seed 37', () => {
  const random = randomFrom(37);
  const background = backgroundOf(random);
  let told = 0;
  for (let i = 0; i < 20; i++) {
    const alone = findLamps(uvFrame(random, [{ u: 40.3, v: 40, events: 1000 }]), background, OPTICS, 5);
    expect(alone).toHaveLength(1);
    const spots = findLamps(
      uvFrame(random, [
        { u: 40.3, v: 40, events: 1000 },
        { u: 44.3, v: 40.2, events: 300 },
      ]),
      background,
      OPTICS,
      5,
    );
    if (spots.length === 2 && Math.hypot(spots[1].u - 44.3, spots[1].v - 40.2) < 0.4) told++;
  }
  // 2.5 radii apart the sum of both has no second peak.
  expect(told).toBeGreaterThanOrEqual(18);
});

test('a hot pixel that is always lit is background, not a lamp', () => {
  const random = randomFrom(33);
  const hot = () => {
    const frame = uvFrame(random, []);
    frame.data[30 * W + 30] = 3000 + Math.round(20 * random.normal());
    return frame;
  };
  const background = learnBackground(Array.from({ length: 9 }, hot));
  expect(findLamps(hot(), background, OPTICS, 3)).toHaveLength(0);
});

/** An ellipse sampled 8 x 8 over two pixels (the pixel and a lens blur of as much) brighter to one side, on a dark board with a bright world beyond x = rim. */
function colourFrame(u: number, v: number, a: number, b: number, rim: number, random: Random, hole = 0) {
  const data = new Uint8Array(3 * W * H);
  for (let y = 0; y < H; y++)
    for (let x = 0; x < W; x++) {
      let sum = 0;
      for (let j = 0; j < 8; j++)
        for (let i = 0; i < 8; i++) {
          const px = x + (i - 3.5) / 4;
          const py = y + (j - 3.5) / 4;
          const out2 = ((px - u) / a) ** 2 + ((py - v) / b) ** 2;
          const inside = out2 < 1 && out2 > hole * hole;
          sum += inside ? 200 * (1 + (0.05 * (px - u)) / a) : px > rim ? 70 : 30;
        }
      const value = Math.max(0, Math.min(255, Math.round(sum / 64 + 1.5 * random.normal())));
      data.fill(value, 3 * (y * W + x), 3 * (y * W + x) + 3);
    }
  return { widthPx: W, heightPx: H, data };
}

test.each([
  [2.2, 2, 4],
  [6, 5, 9],
  [14, 12, 17],
])(
  'an ellipse of half axes %f and %f px, unevenly lit and near the rim of its board, is centred to 0.07 px, seed 34',
  (a, b, away) => {
    const random = randomFrom(34);
    const bias = [0, 0];
    for (let i = 0; i < 12; i++) {
      const u = 45 + random.uniform();
      const v = 38 + random.uniform();
      const discs = findDiscs(colourFrame(u, v, a, b, u + away, random), {
        leastAreaPx: 0.4 * Math.PI * a * b,
        mostAreaPx: 2 * Math.PI * a * b,
        most: 5,
      });
      expect(discs).toHaveLength(1);
      expect(discs[0].holeShare).toBe(0);
      expect(Math.hypot(discs[0].u - u, discs[0].v - v)).toBeLessThan(0.12); // small discs feel the pixel raster
      bias[0] += (discs[0].u - u) / 12;
      bias[1] += (discs[0].v - v) / 12;
    }
    // A ground brighter by a fifth of the contrast on one side moves that edge by a tenth of a pixel, the centre by half.
    expect(Math.hypot(bias[0], bias[1])).toBeLessThan(0.07);
  },
);

test.each([
  [9, 8, 0.5],
  [18, 14, 0.6],
])(
  'a ring of half axes %f and %f px with a hole of %f is centred to 0.05 px and told from a disc, seed 36',
  (a, b, hole) => {
    const random = randomFrom(36);
    let squares = 0;
    for (let i = 0; i < 12; i++) {
      const u = 45 + random.uniform();
      const v = 38 + random.uniform();
      const [ring, ...others] = findDiscs(colourFrame(u, v, a, b, u + a + 4, random, hole), {
        leastAreaPx: 0.4 * Math.PI * a * b,
        mostAreaPx: 2 * Math.PI * a * b,
        most: 5,
      });
      expect(others).toEqual([]);
      expect(Math.abs(ring.holeShare - hole)).toBeLessThan(0.12);
      squares += ((ring.u - u) ** 2 + (ring.v - v) ** 2) / 12;
    }
    // An edge is known to a few hundredths in each of its fifty places.
    expect(Math.sqrt(squares)).toBeLessThan(0.05);
  },
);

test('a stripe and a disc cut by the border are not discs', () => {
  const random = randomFrom(35);
  const search = { leastAreaPx: 40, mostAreaPx: 400, most: 5 };
  expect(findDiscs(colourFrame(45, 40, 30, 2, 200, random), search)).toHaveLength(0);
  expect(findDiscs(colourFrame(2, 40, 6, 6, 200, random), search)).toHaveLength(0);
});
