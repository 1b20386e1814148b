import { expect, test } from 'vitest';
import { randomFrom } from '../maths/random.ts';
import { emptyHits, filterScratch, NEVER, packThresholds, scanInto, scanPixels } from './spotFilter.ts';

const W = 44;
const H = 23;

/** The definition itself: a double sum over 5 x 5 weights. */
function filteredByDefinition(data: Uint8Array, x: number, y: number): number {
  const weights = [1, 2, 2, 2, 1];
  let sum = 0;
  for (let dy = -2; dy <= 2; dy++)
    for (let dx = -2; dx <= 2; dx++) sum += weights[dy + 2] * weights[dx + 2] * data[(y + dy) * W + x + dx];
  return sum;
}

test.each([1, 2, 3, 4, 5, 6, 7, 8])(
  'the word-wise scan finds what the sum over 5 x 5 weights finds, seed %i',
  (seed) => {
    const random = randomFrom(seed);
    const bright = seed % 2 === 0; // with full-scale pixels, where a lane would overflow if it could
    const data = new Uint8Array(W * H).map(() => Math.floor(random.uniform() * (bright ? 256 : 30)));
    if (bright) data.fill(255, W * 5, W * 12);
    const scalar = new Int32Array(W * H).map(() => Math.floor(random.uniform() * (bright ? NEVER : 1200)));
    const level = Math.round((random.uniform() - 0.5) * 400);
    const expected: [number, number][] = [];
    for (let y = 2; y < H - 2; y++) {
      for (let x = 2; x < W - 2; x++) {
        const excess = filteredByDefinition(data, x, y) - scalar[y * W + x] - level;
        if (excess >= 0) expected.push([y * W + x, excess]);
      }
    }
    expect(expected.length).toBeGreaterThan(20);
    for (const eightBit of [true, false]) {
      const hits = emptyHits();
      scanInto(hits, data, W, H, packThresholds(scalar, W, H, eightBit), level, filterScratch(W));
      expect([...hits.pixel.subarray(0, hits.count)].map((pixel, i) => [pixel, hits.excess[i]])).toEqual(expected);
    }
  },
);

test('a 16 bit frame is scanned by the plain form with the same result as its 8 bit copy, seed 9', () => {
  const random = randomFrom(9);
  const data = new Uint8Array(W * H).map(() => Math.floor(random.uniform() * 60));
  const scalar = new Int32Array(W * H).fill(1950);
  const [a, b] = [emptyHits(), emptyHits()];
  scanPixels(a, Uint16Array.from(data), W, H, scalar, 0, filterScratch(W));
  scanInto(b, data, W, H, packThresholds(scalar, W, H, true), 0, filterScratch(W));
  expect(a.count).toBeGreaterThan(10);
  expect([...b.pixel.subarray(0, b.count)]).toEqual([...a.pixel.subarray(0, a.count)]);
});
