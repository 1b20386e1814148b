import { expect, test } from 'vitest';
import { randomFrom } from '../maths/random.ts';
import { distance, type Vec3 } from '../maths/vec3.ts';
import { ERRORS, flyPass, LENS, type PassPlan, type RigDraw } from './inventedPass.testdata.ts';
import { placeBundle } from './placeSighting.ts';

const SOURCE: Vec3 = [1.3, 0.4, 38.2];
const PLAN: PassPlan = {
  standoffM: 40,
  speedMps: 15,
  exposureS: 1e-6,
  halfAngleDeg: 20,
  events: 60,
  pixelSigmaPx: 0.5,
  way: 1,
  startNs: 0,
};
const NO_RIG: RigDraw = { boresightRad: [0, 0, 0], leverM: [0, 0, 0], timeS: 0, lens: LENS };
const NO_PASS = { positionM: [0, 0, 0] as Vec3, attitudeRad: [0, 0, 0] as Vec3 };

// Each error committed on purpose, one at a time, by the simulation; the placing must shift as its own sensitivity says.
const committed: [string, Partial<RigDraw>, Partial<typeof NO_PASS>, number, number][] = [
  ['position north', {}, { positionM: [0, 0.02, 0] }, 1, 0.02],
  ['roll', {}, { attitudeRad: [1e-3, 0, 0] }, 3, 1e-3],
  ['pitch', {}, { attitudeRad: [0, 1e-3, 0] }, 4, 1e-3],
  ['heading', {}, { attitudeRad: [0, 0, 1e-3] }, 5, 1e-3],
  // Truth = nominal + error here, so what we use is wrong by the opposite.
  ['boresight about forward', { boresightRad: [1e-3, 0, 0] }, {}, 6, -1e-3],
  ['boresight about down', { boresightRad: [0, 0, 1e-3] }, {}, 8, -1e-3],
  ['lever arm right', { leverM: [0, 0.02, 0] }, {}, 10, -0.02],
  ['time offset', { timeS: 2e-3 }, {}, 12, -2e-3],
  ['focal length', { lens: { ...LENS, fxPx: 1002 } }, {}, 13, -2],
  ['k1', { lens: { ...LENS, k1: LENS.k1 + 0.01 } }, {}, 17, -0.01],
];

test.each(committed)(
  'an error of %s moves the placed point as the sensitivity predicts',
  (_, rig, pass, parameter, size) => {
    const fly = (r: RigDraw, p: typeof NO_PASS) => {
      const { sightings, rays, poses } = flyPass([SOURCE], PLAN, r, p, randomFrom(3));
      const placed = placeBundle(sightings[0], rays, poses, ERRORS);
      if ('kind' in placed) throw new Error(placed.because);
      return placed;
    };
    const right = fly(NO_RIG, NO_PASS);
    const wrong = fly({ ...NO_RIG, ...rig }, { ...NO_PASS, ...pass });
    const sigma = [
      ...ERRORS.positionSigmaEnuM,
      ERRORS.attitudeSigmaRad.roll,
      ERRORS.attitudeSigmaRad.pitch,
      ERRORS.attitudeSigmaRad.heading,
    ];
    const boresight = Math.sqrt(ERRORS.mounting.boresightCovarianceRad2[0]);
    const all = [...sigma, boresight, boresight, boresight, 0.01, 0.01, 0.01, 1e-3, 0.6, 0.6, 0.5, 0.5, 2e-3];
    const predicted = [0, 1, 2].map((c) => (right.systematicEffectM.get(c, parameter) / all[parameter]) * size);
    const moved = [0, 1, 2].map((c) => wrong.placement.positionEnuM[c] - right.placement.positionEnuM[c]);
    const length = Math.hypot(...predicted);
    expect(length).toBeGreaterThan(0.002);
    // First order against the whole: 3 % of a shift of some centimetres, and the noise that both runs share.
    expect(distance(moved as unknown as Vec3, predicted as unknown as Vec3)).toBeLessThan(0.03 * length + 2e-4);
  },
);
