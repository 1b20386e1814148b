import { expect, test } from 'vitest';
import { InputError } from '../input/InputError.ts';
import { IDENTITY3 } from '../maths/mat3.ts';
import { rotationFromVector } from '../maths/rotation.ts';
import { type MountingDocument, parseMounting, serialiseMounting } from './mountingFile.ts';

const diagonal = (variances: readonly number[]): number[] =>
  Array.from({ length: variances.length ** 2 }, (_, k) =>
    k % (variances.length + 1) === 0 ? variances[k / (variances.length + 1)] : 0,
  );
const SEVEN = [1e-8, 2e-8, 3e-8, 4e-6, 5e-6, 6e-6, 4e-10];

function aDocument(): MountingDocument {
  const bodyFromUv = {
    rotation: [...rotationFromVector([0.3, -0.2, 1.1])],
    translation: [0.32, 0.18, 0.11] as [number, number, number],
  };
  const covariance = diagonal(SEVEN);
  covariance[3 * 7 + 6] = -2e-8;
  covariance[6 * 7 + 3] = -2e-8;
  return {
    format: 'corposant-mounting',
    version: 1,
    rigId: 'tern-2',
    bodyFromUv,
    timeOffsetNs: 1234567.5,
    covariance,
    withRegistration: {
      hash: 'abc',
      bodyFromUv: { ...bodyFromUv, rotation: [...IDENTITY3] },
      timeOffsetNs: 7,
      covariance: diagonal([...SEVEN, 1, 2, 3, 4, 5, 6, 7, 8, 9]),
    },
    parameters: Array.from({ length: 7 }, () => ({
      name: 'time offset',
      unit: 'ms' as const,
      nominal: 0,
      estimate: 1.2,
      sigma: 0.02,
      priorSigma: null,
      held: false,
      verdict: 'determined' as const,
      mostCorrelatedWith: 'lever arm forward',
      correlation: -0.4,
      limits: [],
      advice: [],
    })),
    check: null,
    accepted: false,
    statistics: {
      passes: 2,
      lights: 3,
      surveyedLights: 1,
      views: 6,
      rays: 90,
      normalisedRms: 1.01,
      widenedBy: 1,
      leftOut: [],
    },
    provenance: {
      software: 'corposant',
      flight: 'gannet',
      flightHash: 'a',
      rigHash: 'b',
      registrationHash: 'abc',
      surveyedHash: null,
    },
  };
}

test('a mounting that was written is read again to the last bit, its joint covariance too', () => {
  const document = aDocument();
  const { mounting, withRegistration, hash } = parseMounting(serialiseMounting(document), 'mounting.json');
  expect(mounting.bodyFromUv).toEqual(document.bodyFromUv);
  expect(mounting.timeOffsetNs).toBe(1234567.5);
  expect(mounting.timeOffsetSigmaNs).toBeCloseTo(20_000, 6);
  expect(mounting.leverArmCovarianceM2).toEqual([4e-6, 0, 0, 0, 5e-6, 0, 0, 0, 6e-6]);
  expect(mounting.jointCovariance?.[3 * 7 + 6]).toBe(-2e-8);
  expect(withRegistration.mounting.boresightCovarianceRad2[4]).toBe(2e-8);
  expect(withRegistration.mounting.jointCovariance).toHaveLength(256);
  // SHA-256 in hexadecimal.
  expect(hash).toMatch(/^[0-9a-f]{64}$/);
});

const read = (change: (document: MountingDocument) => unknown): string => {
  const document = structuredClone(aDocument());
  change(document);
  try {
    parseMounting(serialiseMounting(document), 'mounting.json');
  } catch (error) {
    if (error instanceof InputError) return error.message;
    throw error;
  }
  return 'read';
};

test.each<[string, (document: MountingDocument) => unknown, RegExp]>([
  ['a rounded rotation', (d) => d.bodyFromUv.rotation.splice(0, 1, 0.5), /bodyFromUv\.rotation: found rows 0 and 0/],
  ['a negative variance', (d) => d.covariance.splice(0, 1, -1e-8), /^mounting\.json, covariance \(0, 0\): found -1e-8/],
  ['a lopsided covariance', (d) => d.covariance.splice(1, 1, 1e-8), /covariance \(1, 0\): found 0 and 1e-8/],
  [
    'a correlation beyond one',
    (d) => {
      d.withRegistration.covariance[1] = 1;
      d.withRegistration.covariance[16] = 1;
    },
    /withRegistration\.covariance \(1, 0\)/,
  ],
  ['seven by six numbers', (d) => d.covariance.splice(0, 7), /covariance: .*expected 7 x 7 numbers/],
])('%s is refused, by name', (_, change, message) => {
  expect(read(change)).toMatch(message);
});

test('what is not JSON is told as such', () => {
  expect(() => parseMounting('{', 'mounting.json')).toThrow(/mounting\.json: found text that is not JSON/);
});
