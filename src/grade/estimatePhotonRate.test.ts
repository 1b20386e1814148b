import { expect, test } from 'vitest';
import { type Random, randomFrom } from '../maths/random.ts';
import {
  estimatePhotonRate,
  eventsPerPhotonAt,
  type RateConditions,
  type RateObservation,
} from './estimatePhotonRate.ts';
import { mainsEffect } from './mainsEffect.ts';
import { estimateSource } from './sourceCounts.ts';

const CONDITIONS: RateConditions = {
  apertureMm: 25,
  bandNm: [240, 280],
  eventsPerPhoton: 0.05,
  eventsPerPhotonRelativeSigma: 0.1,
  extinctionPerKm: 1.46,
  extinctionSigmaPerKm: 0.9,
  rangeSigmaM: 0.3,
  singleChargeRelativeSigma: 0.03,
  mainsHz: 50,
  frameRateHz: 50,
};

/** Excess noise of a near-exponential pulse height: (sd / mean)² = 0.64, so gamma of shape 1 / 0.64. */
const SHAPE = 1 / 0.64;

/**
 * A pass seen by a camera in which events of one frame merge as spots of 1.5 px do within 4 px, with broad pulse heights.
 * @param flicker variance of the source's own brightness from one fifth of a second to the next, relative
 */
function watch(
  random: Random,
  rateHz: number,
  frames: number,
  backgroundPerFrame: number,
  flicker = 0,
): RateObservation {
  const out = {
    counts: new Float64Array(frames),
    charge: new Float64Array(frames),
    background: new Float64Array(frames).fill(backgroundPerFrame),
    singleCharge: 210,
    singleChargeSpread2: 0.64,
    rangeM: new Float64Array(frames),
    exposureS: new Float64Array(frames).fill(0.02),
    tNs: new Float64Array(frames),
  };
  let brightness = 1;
  for (let i = 0; i < frames; i++) {
    if (flicker > 0 && i % 10 === 0) brightness = random.gamma(1 / flicker) * flicker;
    const along = -12 + (24 * i) / frames;
    out.rangeM[i] = Math.hypot(38, along);
    out.tNs[i] = i * 2e7;
    const mean = rateHz * 0.02 * eventsPerPhotonAt(out.rangeM[i], CONDITIONS) * brightness;
    const photons = random.poisson(mean + backgroundPerFrame);
    out.counts[i] = blobs(random, photons);
    out.charge[i] = photons > 0 ? (random.gamma(photons * SHAPE) / SHAPE) * 210 : 0;
  }
  return out;
}

/** Spots that touch make one blob; beyond six photons all have merged into one or two, which is taken as one. */
function blobs(random: Random, photons: number): number {
  if (photons < 2 || photons > 6) return Math.min(photons, 1);
  const at = Array.from({ length: photons }, () => [1.5 * random.normal(), 1.5 * random.normal()]);
  const group = at.map((_, i) => i);
  for (let i = 0; i < photons; i++)
    for (let j = 0; j < i; j++)
      if (Math.hypot(at[i][0] - at[j][0], at[i][1] - at[j][1]) < 4) {
        const [a, b] = [group[i], group[j]];
        group.forEach((g, k) => {
          if (g === a) group[k] = b;
        });
      }
  return new Set(group).size;
}

/** Rate that gives so many photons in a frame at the middle of the pass. */
const rateOf = (perFrame: number): number => perFrame / (0.02 * eventsPerPhotonAt(38, CONDITIONS));

test('10⁹ photons a second at 40 m through 25 mm at efficiency 0.05 give 0.02303 events in 20 ms', () => {
  // Worked by hand: (25 mm lens) A / 4 pi R² = 2.4414e-8; times 0.05, exp(-1.46 · 0.04), 20 ms, 1e9.
  expect(1e9 * 0.02 * eventsPerPhotonAt(40, CONDITIONS)).toBeCloseTo(0.02303, 5);
});

test('a rate normalised from 20 m to 40 m falls as R² and exp(-kR): 1000 counts become 242.85', () => {
  const air = { ...CONDITIONS, extinctionPerKm: 1.45 };
  expect((1000 * eventsPerPhotonAt(40, air)) / eventsPerPhotonAt(20, air)).toBeCloseTo(242.85, 1);
});

// Draws chosen so that chance leaves 0.6 % or less of the mean.
test.each([
  [0.05, 400, 1500],
  [0.15, 300, 900],
  [0.3, 200, 900],
  [0.6, 200, 600],
  [1, 200, 500],
  [1.5, 200, 500],
  [2.2, 200, 400],
  [3, 200, 300],
  [10, 100, 300],
  [100, 100, 60],
  [1000, 100, 30],
])(
  '%d photons a frame are measured without bias beyond 2 %% although spots merge, seed 91',
  (perFrame, frames, draws) => {
    const random = randomFrom(91);
    const truth = rateOf(perFrame);
    let sum = 0;
    for (let i = 0; i < draws; i++) sum += estimatePhotonRate(watch(random, truth, frames, 0.02), CONDITIONS).rateHz;
    expect(Math.abs(sum / draws / truth - 1)).toBeLessThan(0.02);
  },
);

test('counting blobs would have lost a third of the photons at 0.8 a frame: merging is no small matter', () => {
  const random = randomFrom(92);
  const seen = watch(random, rateOf(0.8), 20000, 0);
  const photons = seen.charge.reduce((a, b) => a + b, 0) / 210;
  const counted = seen.counts.reduce((a, b) => a + b, 0);
  // With 4 px and 1.5 px a pair merges in 1 - exp(-16 / 9) = 83 % of cases.
  expect(counted / photons).toBeLessThan(0.8);
});

test('equal frames: the estimate is -ln(n0 / N) less its bias: 223 empty of 1000 give 1.5006 a frame', () => {
  const hit = (i: number) => (i < 777 ? 1 : 0);
  const source = estimateSource({
    counts: Float64Array.from({ length: 1000 }, (_, i) => hit(i)),
    // Faint charges, so that they keep out of the way.
    charge: Float64Array.from({ length: 1000 }, (_, i) => 0.1 * hit(i)),
    background: new Float64Array(1000),
    singleCharge: 1,
    singleChargeSpread2: 0.64,
    lightGrasp: new Float64Array(1000).fill(1),
  });
  expect(source.chargeShare).toBe(0);
  const bias = Math.expm1(1.50058) / 2000;
  expect(source.events / 1000).toBeCloseTo(1.50058 - bias, 4);
  // Standard deviation √((e^μ - 1) / N) = 0.0590 on 1.5006: variance over Poisson's = 0.0590² · 1000 / 1.5006.
  expect(source.inflation).toBeCloseTo((0.05903 ** 2 * 1000) / 1.50058, 2);
});

test.each([0.1, 0.7, 1.4, 5])(
  'the counting interval of a steady source of %d a frame holds the truth at least 93 times in 100, seed 93',
  (perFrame) => {
    const random = randomFrom(93);
    const truth = rateOf(perFrame);
    let inside = 0;
    const draws = 500;
    for (let i = 0; i < draws; i++) {
      const { countingInterval } = estimatePhotonRate(watch(random, truth, 200, 0.02), CONDITIONS);
      if (countingInterval.lower <= truth && truth <= countingInterval.upper) inside++;
    }
    // 500 draws leave 1 % on a share of 95 %. Never taking the dispersion below 1 makes the interval wide, not narrow.
    expect(inside / draws).toBeGreaterThan(0.93);
  },
);

test('a flickering source is recognised by its overdispersion, and the interval widens enough to hold the mean, seed 94', () => {
  const random = randomFrom(94);
  const truth = rateOf(0.25);
  let inside = 0;
  let poissonInside = 0;
  let dispersion = 0;
  const draws = 300;
  for (let i = 0; i < draws; i++) {
    const rate = estimatePhotonRate(watch(random, truth, 250, 0.01, 1), CONDITIONS);
    dispersion += rate.overdispersion / draws;
    if (rate.countingInterval.lower <= truth && truth <= rate.countingInterval.upper) inside++;
    const half = (1.96 * Math.sqrt(rate.events + 2.5)) / rate.events;
    if (Math.abs(rate.rateHz / truth - 1) < half) poissonInside++;
  }
  // Brightness with variance 1 over 10 frames of 0.25: variance over mean 1 + 10 · 0.25 = 3.5, less what the slices cut.
  expect(dispersion).toBeGreaterThan(1.5);
  expect(inside / draws).toBeGreaterThan(0.9);
  expect(poissonInside / draws).toBeLessThan(0.8);
});

test('no event at all gives no lower limit and the upper limit 3.69 of Garwood', () => {
  const frames = 100;
  const dark: RateObservation = {
    counts: new Float64Array(frames),
    charge: new Float64Array(frames),
    background: new Float64Array(frames),
    singleCharge: 210,
    singleChargeSpread2: 0.64,
    rangeM: new Float64Array(frames).fill(40),
    exposureS: new Float64Array(frames).fill(0.02),
    tNs: Float64Array.from({ length: frames }, (_, i) => i * 2e7),
  };
  const rate = estimatePhotonRate(dark, CONDITIONS);
  expect(rate.rateHz).toBe(0);
  expect(rate.countingInterval.lower).toBe(0);
  expect(rate.countingInterval.upper * frames * 0.02 * eventsPerPhotonAt(40, CONDITIONS)).toBeCloseTo(3.6889, 3);
});

test('one metre of range at 40 m costs 5 % and 0.9 per km of air 3.6 %', () => {
  const rate = estimatePhotonRate(watch(randomFrom(95), rateOf(0.2), 100, 0.02), { ...CONDITIONS, rangeSigmaM: 1 });
  const sigma = (name: string) => rate.budget.find((b) => b.name === name)?.relativeSigma;
  // The mean range of this pass is 38.6 m: 2 / 38.6 + 0.0015 = 5.3 %.
  expect(sigma('range')).toBeCloseTo(0.053, 2);
  expect(sigma('air')).toBeCloseTo(0.035, 3);
  expect(rate.interval.upper).toBeGreaterThan(rate.countingInterval.upper);
  expect(rate.interval.lower).toBeLessThan(rate.countingInterval.lower);
});

test('exposures of whole half-cycles are blind to the phase of the mains; 2 ms locked to it may err by its own size', () => {
  const locked = { mainsHz: 50, frameRateHz: 50, watchedS: 4 };
  expect(mainsEffect({ ...locked, exposureS: 0.02 })).toMatchObject({
    relativeSigma: expect.closeTo(0, 9),
    note: null,
  });
  const short = mainsEffect({ ...locked, exposureS: 0.002 });
  // Light for a third of the half-cycle seen through a fifth of it: a trapezium over the phase, mean 1/15, mean square (0.2² (1/3 - 0.2) + 2 · 0.2³ / 3) = 0.010667.
  expect(short.relativeSigma).toBeCloseTo(Math.sqrt(0.0106667 - (1 / 15) ** 2) * 15, 2);
  expect(short.note).toContain('locked to the mains');
  // 60 Hz under 50 frames a second beats at 20 Hz: many phases in four seconds.
  expect(mainsEffect({ mainsHz: 60, frameRateHz: 50, watchedS: 4, exposureS: 0.002 }).note).toBeNull();
});

test('a source where the camera sees 60 % of the mean gets its rate back, and the budget says how surely', () => {
  const dim = watch(randomFrom(23), rateOf(0.4 * 0.6), 4000, 0);
  const taken = (observation: RateObservation): ReturnType<typeof estimatePhotonRate> =>
    estimatePhotonRate(observation, CONDITIONS);
  const uncorrected = taken(dim);
  const corrected = taken({ ...dim, response: dim.rangeM.map(() => 0.6), responseRelativeSigma: 0.03 });
  expect(corrected.rateHz * 0.6).toBeCloseTo(uncorrected.rateHz, 3);
  expect(corrected.budget).toContainEqual({ name: 'evenness of the camera', relativeSigma: 0.03 });
  expect(uncorrected.budget.map(({ name }) => name)).not.toContain('evenness of the camera');
  // The interval on the logarithm grows by 3 % in quadrature, beside the 10 % of the efficiency and the counting.
  const width = ({ interval }: typeof corrected): number => Math.log(interval.upper / interval.lower);
  expect(width(corrected)).toBeGreaterThan(width(uncorrected));
});
