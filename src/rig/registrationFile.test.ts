import { expect, test } from 'vitest';
import { idealLens } from '../camera/Lens.ts';
import { rotationFromVector } from '../maths/rotation.ts';
import { parseRegistration, type RegistrationDocument, serialiseRegistration } from './registrationFile.ts';

const covariance = Array.from({ length: 576 }, (_, i) => (i % 25 === 0 ? 1 + i / 100 : 0));
const DOCUMENT: RegistrationDocument = {
  format: 'corposant-registration',
  version: 1,
  rigId: 'a rig',
  model: {
    kind: 'two-camera',
    uv: { ...idealLens(640, 512, 1000), k1: -0.1 },
    colour: { ...idealLens(1224, 1024, 1500), p2: 3e-4 },
    colourFromUv: { rotation: [...rotationFromVector([0.01, -0.02, 0.005])], translation: [-0.15, 0.01, 0.002] },
    residualField: [],
  },
  covariance,
  support: {
    uvHullPx: [
      [1, 2],
      [600, 3],
      [500, 500],
    ],
    nearestM: 8,
    farthestM: 45,
  },
  ladder: { chosen: 'two-camera', foldedBy: 'sweeps', rows: [] },
  planeModels: [],
  statistics: {
    heldOutRmsPx: 0.2,
    noiseFloorPx: 0.19,
    statedNoiseFloorPx: 0.18,
    uvRmsPx: 0.1,
    colourRmsPx: 0.05,
    sigmaFactors: { uv: 1, colour: 1.2 },
    bySweep: [],
    framesUsed: 100,
    correspondences: 480,
    leftOut: [],
    outliers: [],
  },
  weaknesses: [],
  validity: { recordedUtc: '2026-05-11T19:40:00Z', temperatureC: null },
  provenance: { software: 'corposant 0', benchName: 'b', benchHash: 'c', rigHash: 'd' },
};

test('a registration is read back to the last bit, and its hash is that of its bytes', () => {
  const text = serialiseRegistration(DOCUMENT);
  const { registration, document } = parseRegistration(text, 'registration.json');
  expect(document).toEqual(DOCUMENT);
  expect(registration.model.colourFromUv.rotation).toEqual(DOCUMENT.model.colourFromUv.rotation);
  expect(Array.from(registration.covariance)).toEqual(covariance);
  expect(registration.hash).toMatch(/^[0-9a-f]{64}$/);
  expect(parseRegistration(`${text} `, 'x').registration.hash).not.toBe(registration.hash);
});

test.each([
  ['{"format":', 'not JSON'],
  [serialiseRegistration({ ...DOCUMENT, covariance: covariance.slice(1) }), '24 x 24 numbers'],
  [
    serialiseRegistration({ ...DOCUMENT, covariance: covariance.map((c, i) => (i === 1 ? 0.5 : c)) }),
    'covariance (1, 0)',
  ],
  [
    serialiseRegistration({
      ...DOCUMENT,
      model: { ...DOCUMENT.model, colourFromUv: { rotation: [1, 0, 0, 0, 1, 0, 0, 0, 1.01], translation: [0, 0, 0] } },
    }),
    'orthonormal',
  ],
  [
    serialiseRegistration({ ...DOCUMENT, model: { ...DOCUMENT.model, uv: { ...DOCUMENT.model.uv, fxPx: -3 } } }),
    'model.uv.fxPx',
  ],
])('a damaged file is refused with its place and fault, case %#', (text, part) => {
  expect(() => parseRegistration(text, 'registration.json')).toThrow(part);
});
