import { Matrix } from 'ml-matrix';
import type { Lens } from '../camera/Lens.ts';
import { invertSymmetric } from '../maths/leastSquares.ts';
import { multiply } from '../maths/mat3.ts';
import type { RigidTransform } from '../maths/rigidTransform.ts';
import type { RobustLoss } from '../maths/robustLoss.ts';
import { rotationFromVector } from '../maths/rotation.ts';
import type { Vec3 } from '../maths/vec3.ts';
import { lensFromVector, lensVector } from './lensDerivative.ts';
import {
  type BundleState,
  correctionsAt,
  LENS_COUNT,
  type Linearised,
  lineariseBundle,
  RAIL_COUNT,
  ROTATION_AT,
  railsAt,
  rigParameterCount,
} from './lineariseBundle.ts';
import { NormalBlocks, type Step } from './normalBlocks.ts';
import { straightMotion } from './straightMotion.ts';

/** One target point seen by one camera. `camera` 0 is the first lens (ultraviolet), 1 the second (colour). */
export interface BundleObservation {
  readonly camera: 0 | 1;
  /** Index into `targetPointsM`. */
  readonly point: number;
  readonly u: number;
  readonly v: number;
  readonly sigmaPx: number;
}

/** One instant: the target in one pose, and everything that was seen of it. */
export interface BundleFrame {
  readonly camFromTarget: RigidTransform;
  readonly observations: readonly BundleObservation[];
  /** Depth of the target's origin in the first camera as measured otherwise. */
  readonly depth?: { readonly valueM: number; readonly sigmaM: number };
  /** The target is known to stand about like this: needed where too few points are seen to tell its attitude. */
  readonly attitude?: { readonly rotation: RigidTransform['rotation']; readonly sigmaRad: number };
}

/** What is known beforehand of the shared parameters; each row is one observation of a linear combination. */
export interface SharedPrior {
  /** Over LENS_PARAMETERS of camera 0 (0-8) and camera 1 (9-17). */
  readonly terms: readonly (readonly [index: number, factor: number])[];
  readonly value: number;
  readonly sigma: number;
}

/** Frames whose target's origin moves along one straight line at one speed, in the first camera's frame. */
export interface BundleRail {
  readonly frames: readonly number[];
  /** Time of each of them, s, about zero. */
  readonly timesS: readonly number[];
  readonly speedMps: number;
  readonly speedSigmaMps: number;
  readonly straysM: number;
}

export interface BundleProblem {
  readonly lenses: readonly [Lens] | readonly [Lens, Lens];
  /** secondFromFirst; required with two lenses. */
  readonly secondFromFirst?: RigidTransform;
  readonly targetPointsM: readonly Vec3[];
  /** Standard deviation of each target coordinate; 0 holds the target fixed. */
  readonly targetSigmaM: number;
  /** The same point by point, where they differ. */
  readonly pointSigmasM?: readonly number[];
  /** Where the search for the target's points starts, where that is not at the stated ones. */
  readonly startTargetPointsM?: readonly Vec3[];
  readonly frames: readonly BundleFrame[];
  readonly priors?: readonly SharedPrior[];
  /** Position of the second camera in the first one's frame, and the turn between them, as built. */
  readonly pairPrior?: { readonly secondInFirstM: Vec3; readonly sigmaM: number; readonly rotationSigmaRad: number };
  readonly rails?: readonly BundleRail[];
  /** Shared parameters (0-17 lenses, 18-20 rotation, 21-23 translation) that keep their start value. */
  readonly fixed?: readonly number[];
  readonly loss?: RobustLoss;
  readonly maxIterations?: number;
  /** Takes what the last iteration has reached for an answer: for a first round that others follow. */
  readonly acceptUnfinished?: boolean;
}

export interface BundleSolution {
  readonly kind: 'solved';
  readonly lenses: readonly Lens[];
  readonly secondFromFirst: RigidTransform | null;
  readonly targetPointsM: readonly Vec3[];
  readonly camFromTarget: readonly RigidTransform[];
  /** Of the lens and pose parameters (9 or 24), the target and the poses marginalised; 0 rows for fixed ones. */
  readonly covariance: Matrix;
  /** Of the corrections of the target's points: x, y, z of point i from row `correctionsAt[i]` on; -1 for points held. */
  readonly targetCovariance: Matrix;
  readonly correctionsAt: Int32Array;
  /** [du, dv] of every observation in order of frames, observed minus computed, px. */
  readonly residualsPx: Float64Array;
  /** Robust weight of each observation. */
  readonly weights: Float64Array;
  readonly cost: number;
  /** Whitened squared sum over the observations alone, no loss. */
  readonly chiSquare: number;
  readonly degreesOfFreedom: number;
  readonly iterations: number;
}

export type BundleOutcome =
  | BundleSolution
  | { readonly kind: 'refused'; readonly because: 'bad start' | 'singular' | 'no convergence' };

/** Below this the damping no longer shows in a step, and would only have to be climbed out of. */
const LEAST_DAMPING = 1e-8;

/**
 * Adjusts one or two lenses, their relative pose, the target's own coordinates and its pose at every instant together:
 * the poses are eliminated (Schur complement), what is left is dense and small.
 * Rotations are updated on the left: R <- exp(delta) R. Robust by iteratively reweighted least squares on whole points.
 * Source: Triggs, McLauchlan, Hartley & Fitzgibbon, Bundle Adjustment - A Modern Synthesis, 2000, 6.1 (from memory).
 */
export function adjustBundle(problem: BundleProblem): BundleOutcome {
  const { frames } = problem;
  const rigCount = rigParameterCount(problem);
  const sharedCount = railsAt(problem) + RAIL_COUNT * (problem.rails?.length ?? 0);
  const free = new Uint8Array(sharedCount).fill(1);
  for (const i of problem.fixed ?? []) if (i < rigCount) free[i] = 0;
  const observationCount = frames.reduce((n, f) => n + f.observations.length, 0);

  let state = startState(problem, sharedCount);
  const linearised = (): Linearised => ({
    residualsPx: new Float64Array(2 * observationCount),
    weights: new Float64Array(observationCount).fill(1),
    normal: new NormalBlocks(sharedCount, frames.length),
  });
  // A trial is linearised at once: nearly all are accepted, and then nothing is to be done again.
  let here = linearised();
  let there = linearised();

  let cost = lineariseBundle(problem, state, here);
  if (!Number.isFinite(cost)) return { kind: 'refused', because: 'bad start' };
  const robust = problem.loss !== undefined;
  let damping = 1e-4;
  let growth = 2;
  let converged = false;
  let iterations = 0;
  const maxIterations = problem.maxIterations ?? 60;
  while (iterations < maxIterations && !converged) {
    iterations++;
    for (;;) {
      const step = here.normal.solve(damping, free);
      if (step) {
        const trial = moved(state, step);
        const trialCost = lineariseBundle(problem, trial, there);
        const gain = cost - trialCost;
        if (gain >= 0) {
          const ratio = step.predicted > 0 ? gain / step.predicted : 1;
          damping = Math.max(LEAST_DAMPING, damping * Math.max(1 / 5, 1 - (2 * Math.min(ratio, 1.5) - 1) ** 3));
          growth = 2;
          state = trial;
          converged = isLast(step, damping, robust) || gain <= (robust && damping < 1e-3 ? ROBUST_GAIN : 1e-13 * cost);
          cost = trialCost;
          [here, there] = [there, here];
          break;
        }
        if (isLast(step, damping, robust) || -gain <= 1e-13 * cost) {
          converged = true;
          break;
        }
      }
      damping *= growth;
      growth *= 2;
      if (damping > 1e14) return { kind: 'refused', because: step ? 'no convergence' : 'singular' };
    }
  }
  if (!converged && !problem.acceptUnfinished) return { kind: 'refused', because: 'no convergence' };
  const { residualsPx, weights, normal } = here;
  const reduced = normal.reduced(0, free);
  const inverse = reduced && invertSymmetric(reduced);
  if (!inverse) return { kind: 'refused', because: 'singular' };
  const covariance = freePart(inverse, free, rigCount);

  let chiSquare = 0;
  let at = 0;
  for (const frame of frames)
    for (const o of frame.observations) {
      chiSquare += (residualsPx[at] ** 2 + residualsPx[at + 1] ** 2) / o.sigmaPx ** 2;
      at += 2;
    }
  const freeRig = free.subarray(0, rigCount).reduce((a, b) => a + b, 0);
  const { shared } = state;
  const slots = correctionsAt(problem);
  return {
    kind: 'solved',
    lenses: problem.lenses.map((l, i) => lensFromVector(shared, l, i * LENS_COUNT)),
    secondFromFirst: state.secondFromFirst,
    targetPointsM: problem.targetPointsM.map((p, i) => {
      const c = slots[i];
      return c >= 0 ? [p[0] + shared[c], p[1] + shared[c + 1], p[2] + shared[c + 2]] : p;
    }),
    camFromTarget: state.camFromTarget,
    covariance,
    targetCovariance:
      sharedCount > rigCount
        ? inverse.subMatrix(rigCount, sharedCount - 1, rigCount, sharedCount - 1)
        : new Matrix(0, 0),
    correctionsAt: slots.map((at) => (at < 0 ? -1 : at - rigCount)),
    residualsPx,
    weights,
    cost,
    chiSquare,
    degreesOfFreedom: 2 * observationCount - 6 * frames.length - freeRig + heldByRails(problem, normal),
    iterations,
  };
}

/**
 * The fall that an undamped step promises is the squared distance to the minimum in standard deviations, along
 * whatever valley. Reweighting closes in on a robust minimum only by a constant factor a step, so it stops at three
 * hundredths of a standard deviation; without a loss the last step costs nothing, and 3e-5 is reached.
 */
const ROBUST_GAIN = 1e-3;
const isLast = (step: Step, damping: number, robust: boolean): boolean =>
  step.sizeInSigmas < 1e-6 || (damping < 1e-3 && Math.abs(step.predicted) < (robust ? ROBUST_GAIN : 1e-9));

function startState(problem: BundleProblem, sharedCount: number): BundleState {
  if (problem.lenses.length === 2 && !problem.secondFromFirst)
    throw new RangeError('adjustBundle: two lenses need secondFromFirst to start from');
  const shared = new Float64Array(sharedCount);
  problem.lenses.forEach((l, i) => {
    shared.set(lensVector(l), i * LENS_COUNT);
  });
  const slots = correctionsAt(problem);
  problem.startTargetPointsM?.forEach((p, i) => {
    if (slots[i] < 0) return;
    for (let axis = 0; axis < 3; axis++) shared[slots[i] + axis] = p[axis] - problem.targetPointsM[i][axis];
  });
  problem.rails?.forEach((rail, i) => {
    const line = straightMotion(
      rail.timesS,
      rail.frames.map((f) => problem.frames[f].camFromTarget.translation),
    );
    shared.set([...line.atM, ...line.velocityMps], railsAt(problem) + RAIL_COUNT * i);
  });
  return {
    shared,
    secondFromFirst: problem.lenses.length === 2 ? problem.secondFromFirst! : null,
    camFromTarget: problem.frames.map((f) => f.camFromTarget),
  };
}

/** How many of the poses' parameters rails determine, not the observations. */
function heldByRails(problem: BundleProblem, normal: NormalBlocks): number {
  let held = 0;
  for (const rail of problem.rails ?? [])
    for (const f of rail.frames) {
      const inverse = normal.blockInverse(f);
      if (inverse) for (const k of [3, 4, 5]) held += inverse[7 * k] / rail.straysM ** 2;
    }
  return held;
}

const turned = (t: RigidTransform, d: ArrayLike<number>, at: number): RigidTransform => ({
  rotation: multiply(rotationFromVector([d[at], d[at + 1], d[at + 2]]), t.rotation),
  translation: [t.translation[0] + d[at + 3], t.translation[1] + d[at + 4], t.translation[2] + d[at + 5]],
});

function moved(state: BundleState, step: Step): BundleState {
  const shared = state.shared.map((x, i) => x + step.shared[i]);
  // The slots of the relative pose hold no values: it lives in secondFromFirst.
  if (state.secondFromFirst) shared.fill(0, ROTATION_AT, ROTATION_AT + 6);
  return {
    shared,
    secondFromFirst: state.secondFromFirst && turned(state.secondFromFirst, step.shared, ROTATION_AT),
    camFromTarget: state.camFromTarget.map((pose, f) => turned(pose, step.blocks, 6 * f)),
  };
}

/** The first `count` rows and columns; zero for parameters held fixed. */
function freePart(inverse: Matrix, free: Uint8Array, count: number): Matrix {
  const out = new Matrix(count, count);
  for (let i = 0; i < count; i++)
    for (let j = 0; j < count; j++) out.set(i, j, free[i] && free[j] ? inverse.get(i, j) : 0);
  return out;
}
