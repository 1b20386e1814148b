import type { Mat3 } from '../maths/mat3.ts';
import { multiply, multiplyVec, transpose } from '../maths/mat3.ts';
import type { RigidTransform } from '../maths/rigidTransform.ts';
import { crossMatrix, vectorFromRotation } from '../maths/rotation.ts';
import type { Vec3 } from '../maths/vec3.ts';
import type { BundleProblem } from './bundle.ts';
import { PROJECTION_LENGTH, projectWithAllDerivativesInto } from './lensDerivative.ts';
import type { NormalBlocks } from './normalBlocks.ts';

/** Number of parameters of a lens, and where those of the relative pose begin. */
export const LENS_COUNT = 9;
export const ROTATION_AT = 2 * LENS_COUNT;

export interface BundleState {
  /** Lenses (9 each), six unused slots where there are two lenses, corrections of the target points. */
  readonly shared: Float64Array;
  readonly secondFromFirst: RigidTransform | null;
  readonly camFromTarget: readonly RigidTransform[];
}

/** Where the corrections of the target points begin among the shared parameters. */
export const rigParameterCount = (problem: BundleProblem): number =>
  problem.lenses.length === 2 ? ROTATION_AT + 6 : LENS_COUNT;

export const correctedPointCount = (problem: BundleProblem): number =>
  problem.targetSigmaM > 0 ? problem.targetPointsM.length : 0;

/** Each rail: the target's place at time zero and its velocity, behind the target points. */
export const RAIL_COUNT = 6;
export const railsAt = (problem: BundleProblem): number =>
  rigParameterCount(problem) + 3 * correctedPointCount(problem);

/**
 * Residuals, robust weights and normal equations of a bundle at `state`.
 * @param residualsPx two for each observation, observed minus computed
 * @param weights     one for each observation, filled where given
 * @param normal      cleared and filled where given
 * @returns           the cost (robust loss on observations, plain squares on priors); Infinity where a point lies
 *                    behind a camera
 */
export function lineariseBundle(
  problem: BundleProblem,
  state: BundleState,
  residualsPx: Float64Array,
  weights: Float64Array | null,
  normal: NormalBlocks | null,
): number {
  const rigCount = rigParameterCount(problem);
  const corrected = correctedPointCount(problem) > 0;
  const { shared } = state;
  const lens = [shared.subarray(0, LENS_COUNT), shared.subarray(LENS_COUNT, 2 * LENS_COUNT)];
  const second = state.secondFromFirst;
  const projection = new Float64Array(PROJECTION_LENGTH);
  const indices = new Int32Array(LENS_COUNT + 6 + 3);
  const values = new Float64Array(indices.length);
  const byPose = new Float64Array(6);
  normal?.clear();
  let cost = 0;
  let at = 0;
  for (let f = 0; f < problem.frames.length; f++) {
    const frame = problem.frames[f];
    const pose = state.camFromTarget[f];
    const r = pose.rotation;
    for (const o of frame.observations) {
      const p = problem.targetPointsM[o.point];
      const c = rigCount + 3 * o.point;
      const px = corrected ? p[0] + shared[c] : p[0];
      const py = corrected ? p[1] + shared[c + 1] : p[1];
      const pz = corrected ? p[2] + shared[c + 2] : p[2];
      const turned: Vec3 = [
        r[0] * px + r[1] * py + r[2] * pz,
        r[3] * px + r[4] * py + r[5] * pz,
        r[6] * px + r[7] * py + r[8] * pz,
      ];
      const first: Vec3 = [
        turned[0] + pose.translation[0],
        turned[1] + pose.translation[1],
        turned[2] + pose.translation[2],
      ];
      const turnedSecond = o.camera === 1 && second ? multiplyVec(second.rotation, first) : first;
      const t = o.camera === 1 && second ? second.translation : ([0, 0, 0] as const);
      const inFront = projectWithAllDerivativesInto(
        projection,
        turnedSecond[0] + t[0],
        turnedSecond[1] + t[1],
        turnedSecond[2] + t[2],
        lens[o.camera],
      );
      if (!inFront) return Number.POSITIVE_INFINITY;
      const eu = o.u - projection[0];
      const ev = o.v - projection[1];
      residualsPx[at] = eu;
      residualsPx[at + 1] = ev;
      const inverseSigma = 1 / o.sigmaPx;
      const squared = (eu * eu + ev * ev) * inverseSigma * inverseSigma;
      cost += problem.loss ? problem.loss.rho(squared) : squared;
      const weight = problem.loss ? problem.loss.weight(squared) : 1;
      if (weights) weights[at / 2] = weight;
      at += 2;
      if (!normal) continue;
      const k = Math.sqrt(weight) * inverseSigma;
      for (let axis = 0; axis < 2; axis++) {
        // The residual is observed minus computed, so its derivatives are those of the projection with a minus sign.
        const a = 2 + 3 * axis;
        const j: Vec3 = [-k * projection[a], -k * projection[a + 1], -k * projection[a + 2]];
        let n = 0;
        for (let i = 0; i < LENS_COUNT; i++) {
          indices[n] = o.camera * LENS_COUNT + i;
          values[n++] = -k * projection[8 + LENS_COUNT * axis + i];
        }
        let jFirst = j;
        if (o.camera === 1 && second) {
          // d/d(delta) of exp(delta) y = -[y]x, so the row j becomes y x j.
          putCross(values, n, turnedSecond, j);
          values[n + 3] = j[0];
          values[n + 4] = j[1];
          values[n + 5] = j[2];
          for (let i = 0; i < 6; i++) indices[n + i] = ROTATION_AT + i;
          n += 6;
          jFirst = rowTimes(j, second.rotation);
        }
        putCross(byPose, 0, turned, jFirst);
        byPose[3] = jFirst[0];
        byPose[4] = jFirst[1];
        byPose[5] = jFirst[2];
        if (corrected) {
          const jTarget = rowTimes(jFirst, r);
          for (let i = 0; i < 3; i++) {
            indices[n] = c + i;
            values[n++] = jTarget[i];
          }
        }
        normal.add(k * (axis === 0 ? eu : ev), n, indices, values, f, byPose);
      }
    }
    cost += addFramePriors(problem, f, pose, normal);
  }
  return cost + addRails(problem, state, normal) + addSharedPriors(problem, state, normal);
}

const rowTimes = (j: Vec3, m: Mat3): Vec3 => [
  j[0] * m[0] + j[1] * m[3] + j[2] * m[6],
  j[0] * m[1] + j[1] * m[4] + j[2] * m[7],
  j[0] * m[2] + j[1] * m[5] + j[2] * m[8],
];

function putCross(out: Float64Array, at: number, a: Vec3, b: Vec3): void {
  out[at] = a[1] * b[2] - a[2] * b[1];
  out[at + 1] = a[2] * b[0] - a[0] * b[2];
  out[at + 2] = a[0] * b[1] - a[1] * b[0];
}

const NO_INDEX = new Int32Array(0);
const NO_VALUE = new Float64Array(0);

function addFramePriors(problem: BundleProblem, f: number, pose: RigidTransform, normal: NormalBlocks | null): number {
  const { depth, attitude } = problem.frames[f];
  let cost = 0;
  if (depth) {
    const r = (depth.valueM - pose.translation[2]) / depth.sigmaM;
    cost += r * r;
    normal?.add(r, 0, NO_INDEX, NO_VALUE, f, Float64Array.of(0, 0, 0, 0, 0, -1 / depth.sigmaM));
  }
  if (attitude) {
    const v = vectorFromRotation(multiply(pose.rotation, transpose(attitude.rotation)));
    const byTurn = inverseLeftJacobian(v);
    for (let i = 0; i < 3; i++) {
      const r = v[i] / attitude.sigmaRad;
      cost += r * r;
      const row = Float64Array.of(byTurn[3 * i], byTurn[3 * i + 1], byTurn[3 * i + 2], 0, 0, 0);
      normal?.add(
        r,
        0,
        NO_INDEX,
        NO_VALUE,
        f,
        row.map((x) => x / attitude.sigmaRad),
      );
    }
  }
  return cost;
}

/** d log(exp(delta) exp(v)) / d delta at delta = 0. Source: Barfoot, State Estimation for Robotics, 2017, 7.1 (from memory). */
function inverseLeftJacobian(v: Vec3): Mat3 {
  const angle = Math.hypot(v[0], v[1], v[2]);
  const k = angle < 1e-4 ? 1 / 12 : (1 - (angle / 2) * (Math.cos(angle / 2) / Math.sin(angle / 2))) / (angle * angle);
  const x = crossMatrix(v);
  const xx = multiply(x, x);
  return x.map((xi, i) => (i % 4 === 0 ? 1 : 0) - xi / 2 + k * (xx[i] as number)) as unknown as Mat3;
}

function addRails(problem: BundleProblem, state: BundleState, normal: NormalBlocks | null): number {
  let cost = 0;
  problem.rails?.forEach((rail, which) => {
    const at = railsAt(problem) + RAIL_COUNT * which;
    const p = state.shared.subarray(at, at + RAIL_COUNT);
    rail.frames.forEach((f, i) => {
      const { translation } = state.camFromTarget[f];
      for (let k = 0; k < 3; k++) {
        const r = (translation[k] - p[k] - p[3 + k] * rail.timesS[i]) / rail.straysM;
        cost += r * r;
        const byPose = new Float64Array(6);
        byPose[3 + k] = 1 / rail.straysM;
        const byLine = Float64Array.of(-1 / rail.straysM, -rail.timesS[i] / rail.straysM);
        normal?.add(r, 2, Int32Array.of(at + k, at + 3 + k), byLine, f, byPose);
      }
    });
    const speed = Math.hypot(p[3], p[4], p[5]);
    const r = (speed - rail.speedMps) / rail.speedSigmaMps;
    cost += r * r;
    if (speed > 0)
      normal?.add(
        r,
        3,
        Int32Array.of(at + 3, at + 4, at + 5),
        Float64Array.of(p[3], p[4], p[5]).map((v) => v / speed / rail.speedSigmaMps),
        -1,
        NO_VALUE,
      );
  });
  return cost;
}

function addSharedPriors(problem: BundleProblem, state: BundleState, normal: NormalBlocks | null): number {
  const rigCount = rigParameterCount(problem);
  const { shared } = state;
  let cost = 0;
  for (const prior of problem.priors ?? []) {
    let value = 0;
    for (const [i, factor] of prior.terms) value += factor * shared[i];
    const r = (prior.value - value) / prior.sigma;
    cost += r * r;
    normal?.add(
      r,
      prior.terms.length,
      Int32Array.from(prior.terms, ([i]) => i),
      Float64Array.from(prior.terms, ([, factor]) => -factor / prior.sigma),
      -1,
      NO_VALUE,
    );
  }
  const { pairPrior } = problem;
  if (pairPrior && state.secondFromFirst) {
    const { rotation, translation } = state.secondFromFirst;
    const back = transpose(rotation);
    // Position of the second camera in the first: c = -R^T t; by a turn on the left of R: -R^T [t]x, by t: -R^T.
    const c = multiplyVec(back, translation);
    const byTurn = multiply(back, crossMatrix(translation));
    const turn = vectorFromRotation(rotation);
    const turnBy = inverseLeftJacobian(turn);
    const indices = Int32Array.from({ length: 6 }, (_, i) => ROTATION_AT + i);
    for (let i = 0; i < 3; i++) {
      const s = pairPrior.sigmaM;
      const r = (-c[i] - pairPrior.secondInFirstM[i]) / s;
      const values = Float64Array.from({ length: 6 }, (_, j) =>
        j < 3 ? -byTurn[3 * i + j] / s : -back[3 * i + j - 3] / s,
      );
      cost += r * r;
      normal?.add(r, 6, indices, values, -1, NO_VALUE);
      const q = turn[i] / pairPrior.rotationSigmaRad;
      const row = Float64Array.from({ length: 6 }, (_, j) =>
        j < 3 ? turnBy[3 * i + j] / pairPrior.rotationSigmaRad : 0,
      );
      cost += q * q;
      normal?.add(q, 6, indices, row, -1, NO_VALUE);
    }
  }
  if (problem.targetSigmaM > 0) {
    const one = new Int32Array(1);
    const slope = Float64Array.of(1 / problem.targetSigmaM);
    for (let i = rigCount; i < railsAt(problem); i++) {
      const r = shared[i] / problem.targetSigmaM;
      cost += r * r;
      one[0] = i;
      normal?.add(r, 1, one, slope, -1, NO_VALUE);
    }
  }
  return cost;
}
