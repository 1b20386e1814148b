import { expect, test } from 'vitest';
import { multiply } from '../maths/mat3.ts';
import { rotationY } from '../maths/rotation.ts';
import { benchRun, RIG, trueRig } from './bench.fixture.ts';
import { calibrateRig } from './calibrateRig.ts';
import { compareRegistrations } from './compareRegistrations.ts';
import type { Registration } from './Registration.ts';
import { verifyRegistration } from './verifyRegistration.ts';

const RANGES_M = [9, 14, 25];
const truth = trueRig(41);
const registrationFrom = (seed: number, rig = truth): Registration => {
  const outcome = calibrateRig(RIG, benchRun(seed, rig, RANGES_M, 0.1, 0.07, 20));
  if (outcome.kind === 'refused') throw new Error(outcome.because);
  return { ...outcome.registration, hash: '' };
};
/** The colour camera turned by a thousandth of a radian: 2.4 px of its focal length. */
const knocked = {
  ...truth,
  colourFromUv: { ...truth.colourFromUv, rotation: multiply(rotationY(0.001), truth.colourFromUv.rotation) },
};
const first = registrationFrom(141);

test('a registration passes on a new run of the same rig, its error without the noise a few hundredths of a pixel', () => {
  const again = verifyRegistration(RIG, benchRun(142, truth, [11, 20], 0.1, 0.07, 20), first, 0.3);
  if (again.kind === 'refused') throw new Error(again.because);
  expect(again.passed).toBe(true);
  expect(again.mappingErrorPx).toBeLessThan(0.2);
  expect(again.bySweep.map((s) => s.name)).toEqual(['about 11 m', 'about 20 m']);
});

test('it fails on a rig whose camera has been knocked by 2.4 px, and says by how much', () => {
  const after = verifyRegistration(RIG, benchRun(143, knocked, [11, 20], 0.1, 0.07, 20), first, 0.3);
  if (after.kind === 'refused') throw new Error(after.because);
  expect(after.passed).toBe(false);
  // The shift is 2.4 px times what the lens' distortion and the ray's angle make of it.
  expect(Math.abs(after.mappingErrorPx - 2.4)).toBeLessThan(0.3);
  expect(after.reasons.join()).toContain('shifted as a whole');
});

test('too few marks in the supported region are no verdict', () => {
  const corner = [
    [2, 2],
    [6, 2],
    [6, 6],
  ] as const;
  const far = { ...first, support: { ...first.support, uvHullPx: corner } };
  const outcome = verifyRegistration(RIG, benchRun(144, truth, [11, 20], 0.1, 0.07, 20), far, 0.3);
  expect(outcome.kind).toBe('refused');
});

test('two runs of one rig are not called moved, a knocked camera is, by as much as it was', () => {
  const still = compareRegistrations(registrationFrom(145), first);
  if (still.kind === 'refused') throw new Error(still.because);
  expect(still.moved).toBe(false);
  const at40 = still.at.find((a) => a.rangeM === 40)!;
  // Root mean squares of eight numbers or so: within a factor of two of what the covariances say.
  expect(at40.rmsPx).toBeLessThan(2 * at40.expectedRmsPx);
  const after = compareRegistrations(registrationFrom(146, knocked), first);
  if (after.kind === 'refused') throw new Error(after.because);
  expect(after.moved).toBe(true);
  expect(after.pValue).toBeLessThan(1e-6);
  for (const a of after.at) expect(Math.abs(a.rmsPx - 2.4)).toBeLessThan(0.3);
});

test('a registration against itself has not moved at all', () => {
  const same = compareRegistrations(first, first);
  expect(same).toMatchObject({ kind: 'compared', chiSquare: 0, pValue: 1, moved: false, degreesOfFreedom: 8 });
});
