import { expect, test } from 'vitest';
import type { Lens } from '../camera/Lens.ts';
import { projectPoint } from '../camera/projectPoint.ts';
import { randomFrom } from '../maths/random.ts';
import { compose, type RigidTransform, transformPoint } from '../maths/rigidTransform.ts';
import { rotationFromVector } from '../maths/rotation.ts';
import type { Vec3 } from '../maths/vec3.ts';
import { adjustBundle, type BundleProblem } from './bundle.ts';
import { lensVector } from './lensDerivative.ts';
import { lineariseBundle } from './lineariseBundle.ts';
import { NormalBlocks } from './normalBlocks.ts';
import { planePose } from './planePose.ts';

const FIRST: Lens = {
  widthPx: 1280,
  heightPx: 1024,
  fxPx: 2000,
  fyPx: 2006,
  cxPx: 651,
  cyPx: 498,
  k1: -0.12,
  k2: 0.04,
  p1: 4e-4,
  p2: -3e-4,
  k3: 0.01,
};
const SECOND: Lens = {
  widthPx: 1920,
  heightPx: 1200,
  fxPx: 2400,
  fyPx: 2391,
  cxPx: 940,
  cyPx: 611,
  k1: -0.15,
  k2: 0.05,
  p1: -2e-4,
  p2: 5e-4,
  k3: -0.02,
};
const PAIR: RigidTransform = { rotation: rotationFromVector([0.006, -0.009, 0.004]), translation: [-0.15, 0.02, 0.01] };
const TARGET: Vec3[] = [
  [-0.5, -0.4, 0],
  [0.1, -0.42, 0.01],
  [0.55, -0.35, 0],
  [-0.52, 0.3, 0.02],
  [0.2, 0.05, 0],
  [0.48, 0.41, 0.01],
];

function syntheticProblem(seed: number, sigmaPx: number, frameCount: number): BundleProblem {
  const random = randomFrom(seed);
  const frames = Array.from({ length: frameCount }, (_, f) => {
    const z = 6 + (f % 5) * 5;
    const pose: RigidTransform = {
      rotation: rotationFromVector([0.4 * random.normal(), 0.4 * random.normal(), 0.3 * random.normal()]),
      translation: [0.24 * z * (random.uniform() - 0.5), 0.2 * z * (random.uniform() - 0.5), z],
    };
    const observations = TARGET.flatMap((p, point) =>
      ([0, 1] as const).map((camera) => {
        const at = transformPoint(camera === 0 ? pose : compose(PAIR, pose), p);
        const px = projectPoint(at, camera === 0 ? FIRST : SECOND)!;
        return {
          camera,
          point,
          u: px[0] + sigmaPx * random.normal(),
          v: px[1] + sigmaPx * random.normal(),
          sigmaPx: Math.max(sigmaPx, 0.01),
        };
      }),
    );
    return {
      camFromTarget: pose,
      observations,
      depth: { valueM: z + 0.1, sigmaM: 0.3 },
      attitude: { rotation: rotationFromVector([0.1, 0.2, -0.1]), sigmaRad: 0.5 },
    };
  });
  return {
    lenses: [FIRST, SECOND],
    secondFromFirst: PAIR,
    targetPointsM: TARGET,
    targetSigmaM: 0.002,
    frames,
    priors: [
      {
        terms: [
          [0, 1],
          [1, -1],
        ],
        value: 0,
        sigma: 5,
      },
      { terms: [[9, 1]], value: 2390, sigma: 24 },
    ],
    pairPrior: { secondInFirstM: [0.14, 0.01, 0.01], sigmaM: 0.004, rotationSigmaRad: 0.02 },
  };
}

test('the gradient of the whole problem, priors included, is its finite difference, seed 3', () => {
  const problem = syntheticProblem(3, 0.7, 4);
  const shared = new Float64Array(24 + 3 * TARGET.length);
  shared.set(lensVector(FIRST), 0);
  shared.set(lensVector(SECOND), 9);
  const base = { shared, secondFromFirst: PAIR, camFromTarget: problem.frames.map((f) => f.camFromTarget) };
  const observations = problem.frames.length * TARGET.length * 2;
  const blank = () => ({
    residualsPx: new Float64Array(2 * observations),
    weights: new Float64Array(observations),
    normal: new NormalBlocks(shared.length, problem.frames.length),
  });
  const linearised = blank();
  const { normal } = linearised;
  lineariseBundle(problem, base, linearised);
  const costAt = (parameter: number, by: number): number => {
    const moved = shared.slice();
    let { secondFromFirst } = base;
    let poses = base.camFromTarget;
    const turn = (t: RigidTransform, axis: number): RigidTransform => {
      const v = [0, 0, 0, 0, 0, 0];
      v[axis] = by;
      return {
        rotation: compose(
          { rotation: rotationFromVector([v[0], v[1], v[2]]), translation: [0, 0, 0] },
          { ...t, translation: [0, 0, 0] },
        ).rotation,
        translation: [t.translation[0] + v[3], t.translation[1] + v[4], t.translation[2] + v[5]],
      };
    };
    if (parameter >= shared.length) {
      const f = Math.floor((parameter - shared.length) / 6);
      poses = poses.map((p, i) => (i === f ? turn(p, (parameter - shared.length) % 6) : p));
    } else if (parameter >= 18 && parameter < 24) secondFromFirst = turn(PAIR, parameter - 18);
    else moved[parameter] += by;
    return lineariseBundle(problem, { shared: moved, secondFromFirst, camFromTarget: poses }, blank());
  };
  for (let i = 0; i < shared.length + 6 * problem.frames.length; i++) {
    const gradient = i < shared.length ? normal.gs[i] : normal.gb[i - shared.length];
    const curvature =
      i < shared.length
        ? normal.hss[i * shared.length + i]
        : normal.hbb[(i - shared.length) * 6 + ((i - shared.length) % 6)];
    const step = 1e-3 / Math.sqrt(curvature);
    const difference = (costAt(i, step) - costAt(i, -step)) / (4 * step); // cost is the full sum of squares: half its slope
    // In units of one standard deviation of the parameter: the third derivative leaves about step squared.
    expect(Math.abs(gradient - difference) / Math.sqrt(curvature)).toBeLessThan(2e-4);
  }
});

test('without noise the true rig is recovered to rounding from a start far off', () => {
  const exact = syntheticProblem(11, 0, 25);
  const problem: BundleProblem = {
    ...exact,
    targetSigmaM: 0,
    priors: [],
    pairPrior: undefined,
    lenses: [
      { ...FIRST, fxPx: 2100, fyPx: 2100, cxPx: 640, cyPx: 512, k1: 0, k2: 0, p1: 0, p2: 0, k3: 0 },
      { ...SECOND, fxPx: 2300, fyPx: 2300, cxPx: 960, cyPx: 600, k1: 0, k2: 0, p1: 0, p2: 0, k3: 0 },
    ],
    secondFromFirst: { rotation: rotationFromVector([0, 0, 0]), translation: [-0.1, 0, 0] },
    frames: exact.frames.map((f) => ({ camFromTarget: f.camFromTarget, observations: f.observations })),
    maxIterations: 300,
  };
  const outcome = adjustBundle(problem);
  if (outcome.kind === 'refused') throw new Error(outcome.because);
  expect(Math.abs(outcome.lenses[0].fxPx - FIRST.fxPx)).toBeLessThan(1e-3);
  expect(Math.abs(outcome.secondFromFirst!.translation[0] + 0.15)).toBeLessThan(1e-6);
  expect(Math.max(...outcome.residualsPx.map(Math.abs))).toBeLessThan(1e-5);
});

test('the errors of the parameters are as large as the covariance says, 40 seeds', () => {
  // k2 and k3 held: 15 views of six marks in a narrow field do not determine them.
  let sum = 0;
  const runs = 40;
  for (let seed = 100; seed < 100 + runs; seed++) {
    const problem = {
      ...syntheticProblem(seed, 0.2, 15),
      targetSigmaM: 0,
      priors: [],
      pairPrior: undefined,
      fixed: [5, 8, 14, 17],
    };
    const outcome = adjustBundle({
      ...problem,
      frames: problem.frames.map((f) => ({ camFromTarget: f.camFromTarget, observations: f.observations })),
    });
    if (outcome.kind === 'refused') throw new Error(outcome.because);
    const f = (outcome.lenses[0].fxPx - FIRST.fxPx) ** 2 / outcome.covariance.get(0, 0);
    const t = (outcome.secondFromFirst!.translation[0] + 0.15) ** 2 / outcome.covariance.get(21, 21);
    sum += f + t;
  }
  // Two squares of unit normals a run: mean 80; the 99.9 % range of chi-square with 80 degrees of freedom, as if independent.
  expect(sum).toBeGreaterThan(46);
  expect(sum).toBeLessThan(125);
});

test('two parameters that move the picture alike are refused, not invented: one view of a plane tells no lens', () => {
  const problem = syntheticProblem(5, 0.2, 1);
  const outcome = adjustBundle({
    ...problem,
    lenses: [FIRST],
    secondFromFirst: undefined,
    targetSigmaM: 0,
    priors: [],
    pairPrior: undefined,
    frames: problem.frames.map((f) => ({
      camFromTarget: f.camFromTarget,
      observations: f.observations.filter((o) => o.camera === 0),
    })),
  });
  expect(outcome.kind).toBe('refused');
});

test('a pose from one image of a flat target is the pose that made the image', () => {
  const pose: RigidTransform = { rotation: rotationFromVector([0.3, -0.2, 0.4]), translation: [1, -0.5, 9] };
  const flat = TARGET.map(([x, y]) => [x, y, 0] as Vec3);
  const found = planePose(
    flat,
    flat.map((p) => projectPoint(transformPoint(pose, p), FIRST)!),
    FIRST,
  )!;
  for (let i = 0; i < 9; i++) expect(found.rotation[i]).toBeCloseTo(pose.rotation[i], 7);
  for (let i = 0; i < 3; i++) expect(found.translation[i]).toBeCloseTo(pose.translation[i], 7);
});
