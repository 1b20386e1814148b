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

/** A thing half-way between the camera's track and the string in the middle of the line. */
const between = (kind: LineComponent['kind'], radiusM: number): LineComponent => ({
  ...component('in between', [
    [0, -20, 30],
    [0, -20, 50],
  ]),
  kind,
  radiusM,
});

test('a solid body between hides a place for as long as similar triangles say, and takes as much off the limit', () => {
  const lens = idealLens(1280, 1024, 1000);
  const small = { ...LINE, components: [component('far', [[0, 0, 40]])] };
  const free = coverComponents(small, pass(0), lens, { ...OPTIONS, frameStep: 1 })[0];
  const masked = coverComponents({ ...small, components: [...small.components, between('clamp', 1)] }, pass(0), lens, {
    ...OPTIONS,
    frameStep: 1,
  })[0];
  // The view from x passes the body's axis at (x / 2) cos(atan(x / 40)): nearer than 1 m for |x| < 2.0025 m.
  const xs = Array.from({ length: 201 }, (_, i) => -30 + 0.3 * i);
  const inView = xs.filter((x) => Math.abs(x) / 40 < (640 - 8) / 1000);
  const hidden = inView.filter((x) => Math.abs(x) < 2.0025);
  expect(masked.framesInView).toBe(inView.length);
  expect(masked.hiddenShare).toBeCloseTo(hidden.length / inView.length, 9);
  expect(masked.hiddenBy).toBe('in between');
  const light = (list: number[]): number => list.reduce((sum, x) => sum + eventsPerPhotonAt(Math.hypot(x, 40)), 0);
  expect((free.limitHz ?? 0) / (masked.limitHz ?? 0)).toBeCloseTo(
    (light(inView) - light(hidden)) / light(inView),
    4, // the limit is bisected to 1e-6
  );
});

test('a body that stands before a place for the whole pass leaves it not seen, and the list says what hid it', () => {
  const line = { ...LINE, components: [component('far', [[0, 0, 40]]), between('clamp', 12)] };
  const [far] = coverComponents(line, pass(0), idealLens(1280, 1024, 1000), { ...OPTIONS, leastFrames: 50 });
  expect(far).toMatchObject({ state: 'not seen', limitHz: null, hiddenBy: 'in between' });
  expect(toFlyAgain([far], 1e9)).toEqual([
    { componentId: 'far', because: 'hidden by in between: from another side or height' },
  ]);
});

test('a twin bundle takes the share of light that its two wires fill of its width, and a ring beside its string nothing', () => {
  const lens = idealLens(1280, 1024, 1000);
  const wires: LineComponent = {
    ...between('conductor', 0.2134),
    axisEnuM: [
      [-60, -20, 40],
      [60, -20, 40],
    ],
    bundle: { count: 2, spacingM: 0.4, radiusM: 0.0134 },
  };
  const line = { ...LINE, components: [component('far', [[0, 0, 40]]), wires] };
  const [far] = coverComponents(line, pass(0), lens, { ...OPTIONS, frameStep: 1 });
  // Two wires of 26.8 mm across in a width of 426.8 mm.
  expect(far.hiddenShare).toBeCloseTo((2 * 0.0268) / 0.4268, 3);
  const ring = component('ring', [[0, 0, 40.25]]);
  const beside = { ...LINE, components: [component('far', [[0, 0, 40]]), ring] };
  expect(coverComponents(beside, pass(0), lens, OPTIONS)[0].hiddenShare).toBe(0);
});

test('the way of looking is told: direction, height, smear and exposure of a pass flown below the place', () => {
  const line = { ...LINE, components: [component('above', [[0, 0, 50]])] };
  const [seen] = coverComponents(line, pass(0), idealLens(1280, 1024, 1000), { ...OPTIONS, frameStep: 1 });
  expect(seen.viewElevationsDeg[0]).toBeCloseTo((Math.atan2(10, 40) * 180) / Math.PI, 1);
  // 0.3 m a frame and full exposure, 1000 px focal length, 40 m of depth.
  expect(seen.smearPx).toBeCloseTo((1000 * 0.3) / 40, 3);
  expect(seen.exposureS).toBeCloseTo(seen.framesInView * 0.02, 9);
  expect(seen.farthestRangeM).toBeGreaterThan(45);
});
