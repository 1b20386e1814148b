import { expect, test } from 'vitest';
import { randomFrom } from '../../maths/random.ts';
import { chargeByLamp } from './chargeByLamp.ts';
import { countLinearity } from './countLinearity.ts';
import { measureFlatField, responseOf } from './flatField.ts';
import { lampSignal } from './lampSignal.ts';

test('counts in proportion to exposure pass, a shutter that lets in 5 ms more does not', () => {
  const proportional = countLinearity([
    { exposureS: 0.005, frames: 100, events: 1010 },
    { exposureS: 0.01, frames: 100, events: 1985 },
    { exposureS: 0.02, frames: 100, events: 4010 },
  ]);
  if (proportional.kind === 'refused') throw new Error(proportional.because);
  expect(proportional.eventsPerS).toBeCloseTo(7005 / 3.5, 9);
  // Chi-square (1010 - 1000.7)²/1000.7 + (1985 - 2001.4)²/2001.4 + (4010 - 4002.9)²/4002.9 = 0.234; its upper tail with two degrees is
  // exp(-0.117).
  expect(proportional.proportionalChance).toBeCloseTo(Math.exp(-0.117), 3);
  const leaking = countLinearity([
    { exposureS: 0.005, frames: 100, events: 2000 },
    { exposureS: 0.01, frames: 100, events: 3000 },
    { exposureS: 0.02, frames: 100, events: 5000 },
  ]);
  if (leaking.kind === 'refused') throw new Error(leaking.because);
  expect(leaking.perFrameAtZero).toBeCloseTo(10, 6);
  expect(leaking.proportionalChance).toBeLessThan(1e-6);
});

test('one length of exposure says nothing about proportion', () => {
  expect(countLinearity([{ exposureS: 0.01, frames: 50, events: 500 }]).kind).toBe('refused');
});

test('a lens that darkens as the fourth power of the cosine is seen as that: 0.883 of the middle at 14.2 degrees, seed 4', () => {
  // cos^4: the natural law of illumination (any handbook of optics, e.g. Smith, Modern Optical Engineering, from memory).
  const random = randomFrom(4);
  const size = { widthPx: 640, heightPx: 512 };
  const truth = (x: number, y: number): number => (1 + ((x - 319.5) ** 2 + (y - 255.5) ** 2) / 800 ** 2) ** -2;
  const xs: number[] = [];
  const ys: number[] = [];
  while (xs.length < 60_000) {
    const [x, y] = [640 * random.uniform() - 0.5, 512 * random.uniform() - 0.5];
    if (random.uniform() > truth(x, y)) continue;
    xs.push(x);
    ys.push(y);
  }
  const found = measureFlatField(size, xs, ys, 0);
  if (found.kind === 'refused') throw new Error(found.because);
  expect(found.evenChance).toBeLessThan(1e-6);
  const response = responseOf(found.flatField, size);
  const ratio = response(319.5 + 800 * Math.tan((14.2 * Math.PI) / 180), 255.5) / response(319.5, 255.5);
  expect(Math.abs(ratio - Math.cos((14.2 * Math.PI) / 180) ** 4)).toBeLessThan(0.02); // 60 000 events: 0.006; the surface is an approximation
  expect(found.least).toBeLessThan(found.greatest);
});

test('even light behind an even lens is called uneven once in twenty, seeds 1 to 60', () => {
  let uneven = 0;
  for (let seed = 1; seed <= 60; seed++) {
    const random = randomFrom(seed);
    const xs = Array.from({ length: 4000 }, () => 640 * random.uniform() - 0.5);
    const ys = Array.from({ length: 4000 }, () => 512 * random.uniform() - 0.5);
    const found = measureFlatField({ widthPx: 640, heightPx: 512 }, xs, ys, 0);
    if (found.kind === 'measured' && found.evenChance < 0.05) uneven++;
  }
  expect(uneven).toBeLessThanOrEqual(9); // 3 expected; P(10 or more) is 8e-4
});

test('a lamp carries the charge to a gain where single events drown, and tells when charge is not proportional', () => {
  const singles = [
    { gain: 6, meanDn: 120, sigmaDn: 1.2 },
    { gain: 7, meanDn: 240, sigmaDn: 2.4 },
  ];
  const sound = chargeByLamp(
    [
      { gain: 3, frames: 60, meanDn: 300, sigmaDn: 3 },
      { gain: 6, frames: 60, meanDn: 2400, sigmaDn: 24 },
      { gain: 7, frames: 60, meanDn: 4820, sigmaDn: 48 },
    ],
    singles,
  );
  if (sound.kind === 'refused') throw new Error(sound.because);
  expect(sound.eventsPerFrame).toBeCloseTo(20.04, 1);
  expect(sound.charges).toHaveLength(1);
  expect(sound.charges[0].meanDn).toBeCloseTo(300 / 20.04, 1);
  expect(sound.proportionalChance).toBeGreaterThan(0.5);
  const saturating = chargeByLamp(
    [
      { gain: 6, frames: 60, meanDn: 2400, sigmaDn: 24 },
      { gain: 7, frames: 60, meanDn: 4000, sigmaDn: 40 },
    ],
    singles,
  );
  expect(saturating.kind === 'measured' && saturating.proportionalChance).toBeLessThan(1e-6);
});

test('a lamp at the limit of the sensor is refused', () => {
  const frames = Array.from({ length: 20 }, () => new Float64Array(441).fill(10).fill(255, 218, 222));
  expect(lampSignal({ gain: 7, sidePx: 21, frames }, new Float64Array(441).fill(10), 255)).toEqual({
    kind: 'refused',
    gain: 7,
    because: 'saturated',
  });
});
