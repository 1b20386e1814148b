import { expect, test } from 'vitest';
import { randomFrom } from '../maths/random.ts';
import { arrivalsOfDischarge, arrivalsOfLamp, mainsPhaseRad } from './arrivals.ts';
import type { Discharge, Mains } from './World.ts';

const MAINS: Mains = { meanHz: 49.97, phaseRad: 0.7, wander: [] };
const STEADY: Discharge = {
  kind: 'discharge',
  id: 'd',
  componentId: 'c',
  positionEnuM: [0, 0, 0],
  photonRateHz: 1e10,
  pulsesPerHalfCycle: 3,
  positiveShare: 0.5,
  phaseSpreadRad: 0.4,
  flicker: [],
  flickerSd: 0,
  note: '',
};

const countsOf = (
  source: Discharge,
  eventsPerPhoton: number,
  exposureS: number,
  frames: number,
  startS = 0,
  stepS = 0.02,
): number[] => {
  const random = randomFrom(31);
  return Array.from({ length: frames }, (_, k) => {
    let n = 0;
    const fromS = startS + k * stepS;
    arrivalsOfDischarge(random.fork(k), source, MAINS, fromS, fromS + exposureS, eventsPerPhoton, (tS) => {
      if (!(tS >= fromS && tS < fromS + exposureS)) throw new Error('a photon outside its exposure');
      n++;
    });
    return n;
  });
};
const mean = (x: readonly number[]) => x.reduce((a, b) => a + b, 0) / x.length;
const variance = (x: readonly number[]) => mean(x.map((v) => (v - mean(x)) ** 2));

test('over whole cycles a discharge gives its rate, seed 31', () => {
  const counts = countsOf(STEADY, 2e-9, 1 / 49.97, 4000, 0, 1 / 49.97);
  const expected = 1e10 * 2e-9 * (1 / 49.97); // 0.4002
  // Variance of one frame, compound Poisson: expected (1 + 2 expected / 6), so 1 sigma of the mean is 0.011.
  expect(Math.abs(mean(counts) - expected)).toBeLessThan(4 * Math.sqrt((expected * (1 + expected / 3)) / 4000));
});

test('counts of a strong discharge scatter more than Poisson, by the strength of its pulses, seed 31', () => {
  const expected = 12;
  const counts = countsOf(STEADY, (expected * 49.97) / 1e10, 1 / 49.97, 4000, 0, 1 / 49.97);
  // Six pulses a cycle, exponential in strength: variance / mean = 1 + 2 x 12 / 6 = 5. Its own scatter over 4000 frames is 4 %.
  expect(variance(counts) / mean(counts) / 5).toBeGreaterThan(0.85);
  expect(variance(counts) / mean(counts) / 5).toBeLessThan(1.15);
});

test('a weak discharge is Poisson, seed 31', () => {
  const counts = countsOf(STEADY, (0.05 * 49.97) / 1e10, 1 / 49.97, 6000, 0, 1 / 49.97);
  // 1 + 2 x 0.05 / 6 = 1.017; the ratio scatters by sqrt(2 / 6000 + 1 / 300) = 0.06.
  expect(Math.abs(variance(counts) / mean(counts) - 1.017)).toBeLessThan(0.2);
});

test('exposures of 2 ms on the crest see many times what they see at the zero crossing', () => {
  const quarterS = 1 / (4 * 49.97);
  const crestS = (Math.PI / 2 - MAINS.phaseRad) / (2 * Math.PI * 49.97);
  const cycle = 1 / 49.97;
  const onCrest = countsOf(STEADY, 1e-7, 0.002, 1500, crestS - 0.001, cycle);
  const between = countsOf(STEADY, 1e-7, 0.002, 1500, crestS + quarterS - 0.001, cycle);
  // Normal pulses of 0.4 rad: within 0.314 rad of the crest 57 %, beyond 1.257 rad on either side 0.2 %.
  expect(mean(onCrest)).toBeGreaterThan(50 * mean(between));
});

test('a discharge of the negative crest alone is dark through the positive half-cycle', () => {
  const negative = { ...STEADY, positiveShare: 0 };
  const crestS = (Math.PI / 2 - MAINS.phaseRad) / (2 * Math.PI * 49.97);
  const positiveHalf = countsOf(negative, 1e-7, 0.008, 300, crestS - 0.004, 1 / 49.97);
  const negativeHalf = countsOf(negative, 1e-7, 0.008, 300, crestS + 0.01 - 0.004, 1 / 49.97);
  expect(mean(negativeHalf)).toBeGreaterThan(5);
  expect(mean(positiveHalf)).toBeLessThan(0.02 * mean(negativeHalf));
});

test('the mains goes through its mean number of turns', () => {
  expect(mainsPhaseRad(MAINS, 10) - mainsPhaseRad(MAINS, 0)).toBeCloseTo(2 * Math.PI * 499.7, 6);
});

test('a lamp is Poisson: mean and variance are both its brightness, seed 7', () => {
  const random = randomFrom(7);
  const counts = Array.from({ length: 8000 }, () => {
    let n = 0;
    arrivalsOfLamp(random, 5, 0, 0.018, () => n++);
    return n;
  });
  // 1 sigma of the mean 0.025, of the variance 0.083.
  expect(Math.abs(mean(counts) - 5)).toBeLessThan(0.1);
  expect(Math.abs(variance(counts) - 5)).toBeLessThan(0.35);
});
