import { expect, test } from 'vitest';
import { randomFrom } from '../../maths/random.ts';
import { add, distance, norm, type Vec3 } from '../../maths/vec3.ts';
import { drawPass, drawRig, ERRORS, flyPass, type PassPlan } from '../inventedPass.testdata.ts';
import { flyCalibration, GOOD_LEGS } from './calibrationFlight.testdata.ts';
import { passNumbers, viewsOfFlight } from './viewsOfFlight.ts';

const SOURCES: readonly Vec3[] = [
  [1.3, 0.4, 38.2],
  [-5.2, 0.9, 37.1],
];
const PLAN: PassPlan = {
  standoffM: 40,
  speedMps: 15,
  exposureS: 0.01,
  halfAngleDeg: 20,
  events: 24,
  pixelSigmaPx: 0.5,
  way: 1,
  startNs: 50e9,
};

function seenPass(seed: number) {
  const random = randomFrom(seed);
  const pass = flyPass(SOURCES, PLAN, drawRig(random), drawPass(random), random);
  // Any track will do: it only numbers the passes.
  const { track } = flyCalibration({ legs: GOOD_LEGS.slice(0, 1), raysPerView: 1, surveyed: true }, 1).problem.views[0];
  return { flight: 'one', track, ...pass, errorsAt: () => ERRORS };
}

test('a sighting near a surveyed lamp is a view of that lamp, and gives back what the camera saw, seed 3', () => {
  const seen = seenPass(3);
  const lamps = [
    { id: 'near', positionEnuM: add(SOURCES[0], [0.02, -0.01, 0.03]), sigmaM: 0.02 },
    { id: 'elsewhere', positionEnuM: [40, 3, 30] as Vec3, sigmaM: 0.02 },
  ];
  const { points, views, leftOut } = viewsOfFlight(seen, lamps);
  expect(points.map((point) => [point.id, point.surveyedSigmaM])).toEqual([['near', 0.02]]);
  expect(views.map((view) => view.id)).toEqual([seen.sightings[0].id]);
  // The other source is no lamp and was seen once.
  expect([...leftOut]).toEqual([['seen once only, place unknown', 1]]);
  for (const ray of views[0].rays) {
    expect(norm(ray.directionUv)).toBeCloseTo(1, 12);
    // Within the field of view: 40 degrees about the axis.
    expect(ray.directionUv[2]).toBeGreaterThan(0.76);
  }
});

test('two lamps closer than the sighting tells apart are not guessed between, seed 4', () => {
  const lamps = ['a', 'b'].map((id, i) => ({
    id,
    positionEnuM: add(SOURCES[0], [0.02 * i, 0, 0]) as Vec3,
    sigmaM: 0.02,
  }));
  const { views, leftOut } = viewsOfFlight(seenPass(4), lamps);
  expect(views).toEqual([]);
  expect(leftOut.get('fits more than one lamp')).toBe(1);
});

test('a discharge seen from both sides becomes one light of unknown place with two views, seed 5', () => {
  const random = randomFrom(5);
  const rig = drawRig(random);
  const there = drawPass(random);
  const a = flyPass([SOURCES[0]], PLAN, rig, there, random);
  const b = flyPass(
    [SOURCES[0]],
    { ...PLAN, way: -1, startNs: 170e9 },
    rig,
    drawPass(random, { draw: there, secondsAgo: 120 }),
    random,
  );
  const joined = joinPasses(a, b);
  const { track } = seenPass(5);
  const { points, views } = viewsOfFlight({ flight: 'one', track, ...joined, errorsAt: () => ERRORS }, []);
  expect(points).toHaveLength(1);
  expect(points[0].surveyedSigmaM).toBeNull();
  // Trajectory 2 and 3 cm, boresight 0.02 degrees at 40 m 1.4 cm, time 1 ms 1.5 cm: a tenth of a metre is three of them.
  expect(distance(points[0].positionEnuM, SOURCES[0])).toBeLessThan(0.15);
  expect(views.map((view) => view.point)).toEqual([0, 0]);
});

/** Two passes as one flight: frames and rays numbered on. */
function joinPasses(a: ReturnType<typeof flyPass>, b: ReturnType<typeof flyPass>): ReturnType<typeof flyPass> {
  const frames = a.poses.count;
  const rays = a.rays.count;
  const both = (x: Float64Array, y: Float64Array): Float64Array => Float64Array.from([...x, ...y]);
  const on = (x: Int32Array, y: Int32Array, by: number): Int32Array =>
    Int32Array.from([...x, ...y.map((value) => value + by)]);
  return {
    rays: {
      count: rays + b.rays.count,
      event: on(a.rays.event, b.rays.event, rays),
      frame: on(a.rays.frame, b.rays.frame, frames),
      tNs: both(a.rays.tNs, b.rays.tNs),
      originEnuM: both(a.rays.originEnuM, b.rays.originEnuM),
      directionEnu: both(a.rays.directionEnu, b.rays.directionEnu),
      sigmaRad: both(a.rays.sigmaRad, b.rays.sigmaRad),
    },
    poses: {
      count: frames + b.poses.count,
      frame: on(a.poses.frame, b.poses.frame, frames),
      tNs: both(a.poses.tNs, b.poses.tNs),
      exposureNs: both(a.poses.exposureNs, b.poses.exposureNs),
      originEnuM: both(a.poses.originEnuM, b.poses.originEnuM),
      uvFromEnu: both(a.poses.uvFromEnu, b.poses.uvFromEnu),
    },
    sightings: [...a.sightings, ...b.sightings.map((s) => ({ ...s, rays: s.rays.map((ray) => ray + rays) }))],
  };
}

test('turning back, or a gap in the trajectory, begins another pass; crossing the lights one after another does not', () => {
  const { problem } = flyCalibration({ legs: GOOD_LEGS.slice(0, 3), raysPerView: 3, surveyed: true }, 6);
  const track = problem.views[0].track;
  // Legs at 20, 140 and 260 s, with nothing recorded in between.
  const times = [17, 19, 22, 138, 141, 259, 260].map((s) => s * 1e9);
  expect(passNumbers(track, times)).toEqual([0, 0, 0, 1, 1, 2, 2]);
});
