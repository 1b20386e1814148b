import { expect, test } from 'vitest';
import { idealLens } from '../camera/Lens.ts';
import type { LineComponent, LineModel } from '../line/LineModel.ts';
import { randomFrom } from '../maths/random.ts';
import type { Vec3 } from '../maths/vec3.ts';
import type { FramePoses } from '../sighting/EventRays.ts';
import { type CoverageOptions, coverComponents, toFlyAgain } from './coverComponents.ts';
import { probabilityFound, rateFoundWith, thresholdFor } from './detectionLimit.ts';

/** A camera 40 m south of the line that flies east at 15 m/s from -30 m to +30 m and looks north, 50 frames a second. */
function pass(startNs: number): FramePoses {
  const count = 201;
  return {
    count,
    frame: Int32Array.from({ length: count }, (_, i) => i),
    tNs: Float64Array.from({ length: count }, (_, i) => startNs + i * 2e7),
    exposureNs: new Float64Array(count).fill(2e7),
    originEnuM: Float64Array.from(Array.from({ length: count }, (_, i) => [-30 + 0.3 * i, -40, 40]).flat()),
    // x right = east, y down, z forward = north.
    uvFromEnu: Float64Array.from(Array.from({ length: count }, () => [1, 0, 0, 0, 0, -1, 0, 1, 0]).flat()),
  };
}
const component = (id: string, axisEnuM: Vec3[]): LineComponent => ({
  id,
  kind: 'insulator string',
  structureIds: [],
  circuit: '1',
  phase: 'a',
  axisEnuM,
  radiusM: 0.1,
  sigmaM: 0.05,
  discs: 15,
  bundle: null,
});
const LINE: LineModel = {
  name: 'l',
  owner: 'o',
  voltageKv: 220,
  structures: [],
  components: [
    component('in the middle', [
      [0, 0, 41],
      [0, 0, 38],
    ]),
    component('half above the image', [
      [0, 0, 80],
      [0, 0, 40],
    ]),
    component('behind the camera', [
      [0, -90, 41],
      [0, -90, 38],
    ]),
  ],
};
// Lens opening 25 mm, efficiency 0.05, air 1.46 per km.
const eventsPerPhotonAt = (r: number) =>
  ((Math.PI * 0.0125 ** 2) / (4 * Math.PI * r * r)) * 0.05 * Math.exp(-0.00146 * r);
const OPTIONS: CoverageOptions = {
  eventsPerPhotonAt,
  eventsNeeded: () => 11.5,
  leastFrames: 10,
  nearestM: 5,
  farthestM: 120,
};

test('a string seen from end to end is clear down to a limit, and the limit is what the light of the pass allows', () => {
  const found = coverComponents(LINE, pass(0), idealLens(1280, 1024, 1000), { ...OPTIONS, frameStep: 1 });
  expect(found[0]).toMatchObject({ state: 'clear', coveredShare: 1, passes: 1 });
  expect(found[0].nearestRangeM).toBeCloseTo(40, 1);
  expect(found[0].viewAzimuthsDeg[0]).toBeCloseTo(0, 0);
  // The image is 1280 px wide, 8 px of border: in view while |x| < 631.5 / 1000 · 40 m = 25.3 m, 169 frames of 0.3 m.
  expect(found[0].framesInView).toBe(169);
  let eventsPerHz = 0;
  for (let i = -84; i <= 84; i++) eventsPerHz += 0.02 * eventsPerPhotonAt(Math.hypot(40, 0.3 * i, 1.1));
  // 11.5 events are needed; the worst place of the string stands 2 m below the axis, 0.1 % further off than 1.1 m.
  expect(found[0].limitHz! / (11.5 / eventsPerHz)).toBeGreaterThan(0.995);
  expect(found[0].limitHz! / (11.5 / eventsPerHz)).toBeLessThan(1.01);
});

test('what was seen in part or not at all is never called clear', () => {
  const found = coverComponents(LINE, pass(0), idealLens(1280, 1024, 1000), OPTIONS);
  expect(found[1].state).toBe('not seen');
  expect(found[1].limitHz).toBeNull();
  expect(found[1].coveredShare).toBeGreaterThan(0.3);
  expect(found[1].coveredShare).toBeLessThan(0.7);
  expect(found[2]).toMatchObject({ state: 'not seen', limitHz: null, nearestRangeM: null, coveredShare: 0 });
  expect(toFlyAgain(found, 1e12).map((r) => r.because)).toEqual([expect.stringContaining('only'), 'not seen']);
});

test('looking at every fifth frame changes limits by less than two per cent', () => {
  const all = coverComponents(LINE, pass(0), idealLens(1280, 1024, 1000), { ...OPTIONS, frameStep: 1 });
  const fifth = coverComponents(LINE, pass(0), idealLens(1280, 1024, 1000), OPTIONS);
  expect(Math.abs(fifth[0].limitHz! / all[0].limitHz! - 1)).toBeLessThan(0.02);
});

test('sources thrown at the stated limit are found in 95 of 100 passes, over one pass and over two, seed 81', () => {
  const random = randomFrom(81);
  const passes = [
    { eventsPerHz: 2e-8, eventsNeeded: 11.5 },
    { eventsPerHz: 3e-8, eventsNeeded: 12.5 },
  ];
  for (const used of [passes.slice(0, 1), passes]) {
    const limit = rateFoundWith(0.95, used);
    const thresholds = used.map((p) => thresholdFor(p.eventsNeeded));
    let found = 0;
    const draws = 20000;
    for (let i = 0; i < draws; i++) {
      // Counts are whole: a threshold between k and k + 1 is passed by k + 1 and, in that share of cases, by k.
      if (
        used.some((p, k) => {
          const n = random.poisson(limit * p.eventsPerHz);
          const whole = Math.floor(thresholds[k]);
          return n > whole || (n === whole && random.uniform() > thresholds[k] - whole);
        })
      )
        found++;
    }
    // 20000 draws: 0.15 %; the real-valued threshold against whole counts: within 1.5 %.
    expect(Math.abs(found / draws - 0.95)).toBeLessThan(0.02);
    expect(probabilityFound(limit, used)).toBeCloseTo(0.95, 5);
  }
  expect(rateFoundWith(0.95, passes)).toBeLessThan(rateFoundWith(0.95, passes.slice(1)));
});
