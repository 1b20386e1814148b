import { expect, test } from 'vitest';
import { uvPx } from '../camera/pixel.ts';
import { randomFrom } from '../maths/random.ts';
import { norm } from '../maths/vec3.ts';
import { assessRegistration } from './assessRegistration.ts';
import type { BenchRun, SeenMark, TargetMark } from './BenchObservations.ts';
import { benchRun, MARKS, RIG, trueRig } from './bench.fixture.ts';
import { calibrateRig, type RigCalibration } from './calibrateRig.ts';
import { colourFromUv } from './colourFromUv.ts';

const truth = trueRig(61);
const calibrated = (run: BenchRun): RigCalibration => {
  const outcome = calibrateRig(RIG, run);
  if (outcome.kind === 'refused') throw new Error(outcome.because);
  return outcome;
};
const sigmaPx = ({ registration }: RigCalibration, rangeM: number): number => {
  const mapped = colourFromUv({ ...registration, hash: '' }, uvPx(640, 512), 1 / rangeM);
  if (mapped.kind === 'refused') throw new Error(mapped.because);
  return Math.sqrt(mapped.covariancePx2[0] + mapped.covariancePx2[3]);
};

test('one range is valid at that range, states a larger error away from it, and stays within what it states', () => {
  const one = calibrated(benchRun(161, truth, [20], 0.1, 0.07, 40));
  const five = calibrated(benchRun(162, truth, [8, 14, 20, 45], 0.1, 0.07, 15));
  expect(one.weaknesses.find((w) => w.what.startsWith('one range only'))?.record).toBe(
    'Record a second sweep at half or twice this range or further.',
  );
  // The nominal baseline is known to 3 mm: 2400 px · 0.003 m · (1/10 - 1/20 per m) = 0.36 px at 10 m.
  expect(sigmaPx(one, 10)).toBeGreaterThan(0.2);
  expect(sigmaPx(one, 10)).toBeGreaterThan(3 * sigmaPx(one, 20));
  expect(sigmaPx(five, 10)).toBeLessThan(0.3 * sigmaPx(one, 10));
  const registration = { ...one.registration, hash: '' };
  const [at10, at20] = assessRegistration(registration, truth, [10, 20]);
  expect(at20.rmsPx).toBeLessThan(0.3);
  // Two degrees of freedom: 0.1 % of draws lie above 13.8 / 2.
  expect(at10.normalisedSquare).toBeLessThan(6.9);
  const far = colourFromUv(registration, uvPx(640, 512), 1 / 10);
  expect(far).toMatchObject({ kind: 'mapped', supported: false, support: 'nearer than the bench run' });
});

test('a board whose marks lie on a line is told to spread them', () => {
  const onALine: TargetMark[] = MARKS.map((m, i) => ({
    ...m,
    lampM: [0.22 * i - 0.5 + 0.03 * (i % 2), 0.001 * i, -0.02],
    discM: [0.22 * i - 0.42 + 0.03 * (i % 2), 0.001 * i, 0],
  }));
  const outcome = calibrateRig(RIG, benchRun(163, truth, [9, 20], 0.1, 0.07, 15, onALine));
  expect(outcome).toMatchObject({
    kind: 'refused',
    because: 'the marks of the target lie nearly on one line, which hides how it is turned',
    record: 'Use a board whose marks spread in both directions.',
  });
});

test('a target that was not moved is told to be carried through the image', () => {
  const full = benchRun(164, truth, [9, 20], 0.1, 0.07, 15);
  const random = randomFrom(164);
  const noisy = (m: SeenMark | null): SeenMark | null =>
    m && { ...m, u: m.u + m.sigmaPx * random.normal(), v: m.v + m.sigmaPx * random.normal() };
  const still = [0, 1].map(
    (sweep) => full.frames.find((f) => f.sweep === sweep && f.marks.every((m) => m.uv && m.colour))!,
  );
  const frames = full.frames.map((f) => ({
    ...f,
    marks: still[f.sweep].marks.map((m) => ({ ...m, uv: noisy(m.uv), colour: noisy(m.colour) })),
  }));
  const outcome = calibrateRig(RIG, { ...full, frames });
  expect(outcome).toMatchObject({
    kind: 'refused',
    because: 'the target was hardly moved: 30 instants at 2 places, at least 8 places needed',
    record: expect.stringContaining('carried through the whole of both images'),
  });
});

test('too few instants are refused, with how many were found and what to record', () => {
  const outcome = calibrateRig(RIG, benchRun(165, truth, [9], 0.1, 0.07, 6));
  expect(outcome).toMatchObject({
    kind: 'refused',
    because: '6 instants with the target in both images, at least 8 needed',
    record: expect.stringContaining('at least two sweeps of fifty instants'),
  });
});

test('the nominal baseline is what a run of one range leans on', () => {
  const one = calibrated(benchRun(166, truth, [20], 0.1, 0.07, 25));
  const off = norm(one.registration.model.colourFromUv.translation) - norm(RIG.pair.colourInUvM);
  expect(Math.abs(off)).toBeLessThan(2 * RIG.pair.sigmaM);
  expect(Math.sqrt(one.registration.covariance[21 * 25])).toBeGreaterThan(0.3 * RIG.pair.sigmaM);
});
