import { expect, test } from 'vitest';
import { idealLens } from '../camera/Lens.ts';
import { uvPx } from '../camera/pixel.ts';
import { transformDirection } from '../maths/rigidTransform.ts';
import { rotationX } from '../maths/rotation.ts';
import type { RigDescription } from '../recording/RigDescription.ts';
import { colourFromUv } from './colourFromUv.ts';
import { discCentreBias } from './discCentreBias.ts';
import { mountingFromRig } from './mountingFromRig.ts';
import { nominalRegistration } from './nominalRegistration.ts';

const RIG: RigDescription = {
  format: 'corposant-rig',
  version: 1,
  id: 'r',
  cameras: {
    uv: {
      widthPx: 641,
      heightPx: 513,
      bitDepth: 8,
      pixelPitchUm: 20,
      focalMm: 20,
      focalSigmaMm: 0.06,
      shutter: 'global',
      spotSigmaPx: 1.3,
      blurSigmaPx: 0.9,
      saturationLevel: 255,
      gainCurve: [{ gain: 1, meanChargeDn: 10 }],
      apertureMm: 15,
      bandNm: [240, 280],
      eventsPerPhoton: 0.1,
    },
    colour: {
      widthPx: 1225,
      heightPx: 1025,
      bitDepth: 8,
      pixelPitchUm: 6.9,
      focalMm: 10.35,
      focalSigmaMm: 0.03,
      shutter: 'global',
    },
  },
  pair: { colourInUvM: [0.15, 0, 0], sigmaM: 0.003, rotationSigmaDeg: 0.5 },
  mounting: {
    uvInBodyM: [0.1, 0.2, 0.3],
    leverArmSigmaM: 0.01,
    yawDeg: 90,
    pitchDeg: 0,
    rollDeg: 0,
    boresightSigmaDeg: 0.02,
    timeOffsetSigmaMs: 0.3,
  },
};

test('a camera mounted at yaw 90 looks to the right wing, its picture upright', () => {
  const { bodyFromUv, timeOffsetSigmaNs } = mountingFromRig(RIG);
  const expected = [
    [
      [0, 0, 1],
      [0, 1, 0],
    ], // ahead of the camera: body right
    [
      [1, 0, 0],
      [-1, 0, 0],
    ], // right in the picture: body aft
    [
      [0, 1, 0],
      [0, 0, 1],
    ], // down in the picture: body down
  ] as const;
  for (const [camera, body] of expected)
    transformDirection(bodyFromUv, camera).forEach((x, i) => {
      expect(x).toBeCloseTo(body[i], 12);
    });
  expect(timeOffsetSigmaNs).toBe(300_000);
});

test('a rig without a bench run maps by its parallax, unsupported, and states tens of pixels of doubt', () => {
  const at = colourFromUv(nominalRegistration(RIG), uvPx(320, 256), 1 / 40);
  if (at.kind === 'refused') throw new Error(at.because);
  // f = 1500 px, baseline 0.15 m to the right: the source stands 1500 · 0.15 / 40 px further left.
  expect(at.px[0]).toBeCloseTo(612 - 5.625, 9);
  expect(at.px[1]).toBeCloseTo(512, 9);
  expect(at.support).toBe('no bench run');
  // Rotation 0.5 degrees of 1500 px is 13 px; both principal points add 12 and 9.6 px.
  expect(Math.sqrt(at.covariancePx2[0])).toBeCloseTo(Math.hypot(1500 * 0.5 * (Math.PI / 180), 12.25, 9.615), 0);
});

test('a disc tilted about its horizontal axis has its centroid moved towards its near edge, as the closed form says', () => {
  // Circle of radius r in the plane tilted by a: the image is a conic whose centre, for a lens of focal length f, lies at
  // v = f r² sin(a) cos(a) / (z² - r² sin²(a)) from the image of the circle's centre (on the axis).
  const [r, z, f, a] = [0.5, 5, 1000, 0.6];
  const lens = idealLens(1001, 1001, f);
  const bias = discCentreBias([0, 0, 0], 2 * r, { rotation: rotationX(a), translation: [0, 0, z] }, lens);
  const closed = (-f * r * r * Math.sin(a) * Math.cos(a)) / (z * z - (r * Math.sin(a)) ** 2);
  expect(bias[0]).toBeCloseTo(0, 9);
  expect(Math.abs(bias[1] / closed - 1)).toBeLessThan(1e-4); // what a polygon of 48 corners leaves in higher moments
});
