import { expect, test } from 'vitest';
import { randomFrom } from '../maths/random.ts';
import { halfWave, lightOfPasses, shareOfDarkPasses } from './halfWave.ts';

const LOCKED = { mainsHz: 50, exposureS: 0.002, frameRateHz: 50, frames: 100 };

test('light on one half-wave has a mean of 1, and half of it comes within 1.5 ms at 50 Hz', () => {
  const { at } = halfWave(50, 0);
  const mean = (fromS: number, toS: number): number => {
    let sum = 0;
    for (let i = 0; i < 10_000; i++) sum += at(fromS + ((i + 0.5) / 10_000) * (toS - fromS));
    return sum / 10_000;
  };
  expect(mean(0, 0.02)).toBeCloseTo(1, 6);
  // About the crest, a quarter of a cycle in.
  expect((mean(0.00425, 0.00575) * 0.0015) / 0.02).toBeCloseTo(0.5, 1);
});

test('what exposures take in is what photons drawn at random times by their light say, seed 5', () => {
  const of = { ...LOCKED, exposureS: 0.007, frames: 3, mainsHz: 50.5, phases: 5 };
  const random = randomFrom(5);
  lightOfPasses(of).forEach((light, p) => {
    const { at } = halfWave(of.mainsHz, (p + 0.5) / of.phases);
    let sum = 0;
    for (let i = 0; i < 60_000; i++) sum += at(Math.floor(3 * random.uniform()) / 50 + of.exposureS * random.uniform());
    // The light has a relative spread of 2: 0.8 % for 60 000 draws; four of that.
    expect(Math.abs(sum / 60_000 - light)).toBeLessThan(0.035 * Math.max(1, light));
  });
});

test('exposures of a whole cycle see all light at any phase, short ones in step with the mains none in most passes, out of step in none', () => {
  expect(shareOfDarkPasses({ ...LOCKED, exposureS: 0.02 })).toBe(0);
  expect(shareOfDarkPasses(LOCKED)).toBeGreaterThan(0.5);
  // Half a hertz off, the two seconds of a pass run through a whole beat.
  expect(shareOfDarkPasses({ ...LOCKED, mainsHz: 50.5 })).toBe(0);
});
