import { expect, test } from 'vitest';
import { randomFrom } from '../maths/random.ts';
import { clockSlip } from './clockSlip.ts';
import { pairStamps } from './pairStamps.ts';
import { streamHealth } from './streamHealth.ts';

const in2026 = Date.UTC(2026, 4, 12) / 1000;

test('offsets of 18, 37 and 19 s are named as the mix-up of scales that they are', () => {
  expect(clockSlip(18.004, 0.05, in2026)).toMatchObject({ name: 'GPS and UTC mixed up', offsetS: 18 });
  expect(clockSlip(-37.01, 0.05, in2026)).toMatchObject({ name: 'TAI and UTC mixed up', offsetS: -37 });
  expect(clockSlip(19, 0.05, in2026)).toMatchObject({ name: 'TAI and GPS mixed up', offsetS: 19 });
  expect(clockSlip(18.4, 0.05, in2026)).toBeNull();
  // In 2016 GPS and UTC were 17 s apart.
  expect(clockSlip(17, 0.05, Date.UTC(2016, 4, 12) / 1000)).toMatchObject({ name: 'GPS and UTC mixed up' });
  expect(() => clockSlip(18, 2, in2026)).toThrow(/names nothing/);
});

test('frames lost on both sides leave the others paired with their own partners, seed 9', () => {
  const random = randomFrom(9);
  const full = Array.from({ length: 500 }, (_, i) => i * 20e6);
  const lostA = new Set([3, 4, 77, 301]);
  const lostB = new Set([4, 200, 201, 202, 499]);
  const rowsA = full.map((_, i) => i).filter((i) => !lostA.has(i));
  const rowsB = full.map((_, i) => i).filter((i) => !lostB.has(i));
  const a = rowsA.map((i) => full[i] + Math.round(1e5 * random.normal()));
  const b = rowsB.map((i) => full[i] + 2_000_000 + Math.round(1e5 * random.normal()));
  const result = pairStamps(a, b, 5e6);
  result.partner.forEach((j, row) => {
    const frame = rowsA[row];
    if (lostB.has(frame)) expect(j).toBe(-1);
    else expect(rowsB[j]).toBe(frame);
  });
  expect(result).toMatchObject({ pairs: 500 - 8, unpairedFirst: 4, unpairedSecond: 3 });
  // Mean of 492 pairs with 0.14 ms of scatter: 6.4 us; four of these.
  expect(Math.abs(result.meanGapNs - 2e6)).toBeLessThan(26_000);
  expect(result.largestGapNs).toBeLessThan(3e6);
});

test('of two candidates only the nearer is taken, and nothing beyond the tolerance', () => {
  expect([...pairStamps([0, 10], [4, 9], 100).partner]).toEqual([0, 1]);
  expect([...pairStamps([0, 4, 11], [3, 10], 100).partner]).toEqual([-1, 0, 1]);
  expect([...pairStamps([0, 0, 10], [10], 5).partner]).toEqual([-1, -1, 0]);
  expect([...pairStamps([0, 100], [6, 130], 10).partner]).toEqual([0, -1]);
  expect(pairStamps([], [1], 10)).toMatchObject({ pairs: 0, unpairedSecond: 1 });
  expect(pairStamps([1], [], 10)).toMatchObject({ pairs: 0, unpairedFirst: 1 });
});

test('a stream tells of its losses, its jitter and its clock, seed 4', () => {
  const random = randomFrom(4);
  // 49.95 Hz where 50 are nominal, 20 us of jitter, frames 100 to 104 and 300 missing, one stamp twice, one earlier.
  const frames = Array.from({ length: 1000 }, (_, i) => i).filter((i) => (i < 100 || i > 104) && i !== 300);
  const t = frames.map((i) => Math.round((i * 1e9) / 49.95 + 2e4 * random.normal()));
  const health = streamHealth(t, 50);
  expect(health.missing).toBe(6);
  expect(health.gaps.map((g) => [g.afterRow, g.missing])).toEqual([
    [99, 5],
    [294, 1],
  ]);
  expect(health.rateErrorRelative).toBeCloseTo(-0.001, 4);
  expect(health.largestGapNs / (6e9 / 49.95)).toBeCloseTo(1, 3);
  // Intervals are differences of two stamps: 20 us times sqrt 2, known to 2.2 % from 993 of them; four of these.
  expect(Math.abs(health.jitterRmsNs / 28284 - 1)).toBeLessThan(0.1);
  t[500] = t[499];
  t[700] = t[699] - 5;
  const broken = streamHealth(t, 50);
  expect([broken.repeatedRows, broken.backwardRows]).toEqual([[500], [700]]);
});

test('a stream at half its nominal rate misses every other frame', () => {
  const health = streamHealth(
    Array.from({ length: 101 }, (_, i) => i * 40e6),
    50,
  );
  expect(health).toMatchObject({ missing: 100, rateErrorRelative: -0.5, durationS: 4 });
});
