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

const pointSigmaM = (problem: BundleProblem, point: number): number =>
  problem.pointSigmasM ? problem.pointSigmasM[point] : problem.targetSigmaM;

/** For each target point where its correction begins among the shared parameters; -1 for points held as stated. */
export function correctionsAt(problem: BundleProblem): Int32Array {
  const first = rigParameterCount(problem);
  let free = 0;
  return Int32Array.from(problem.targetPointsM, (_, i) => (pointSigmaM(problem, i) > 0 ? first + 3 * free++ : -1));
}

const correctedPointCount = (problem: BundleProblem): number => correctionsAt(problem).filter((at) => at >= 0).length;

/** Each rail: the target's place at time zero and its velocity, behind the target points. */
export const RAIL_COUNT = 6;
export const railsAt = (problem: BundleProblem): number =>
  rigParameterCount(problem) + 3 * correctedPointCount(problem);

/** What a state of a bundle comes to. */
export interface Linearised {
  /** Two for each observation, observed minus computed. */
  readonly residualsPx: Float64Array;
  /** Robust weight of each observation. */
  readonly weights: Float64Array;
  readonly normal: NormalBlocks;
}

/**
 * Residuals, robust weights and normal equations of a bundle at `state`, written over what stood there.
 * @returns the cost (robust loss on observations, plain squares on priors); Infinity where a point lies
 *          behind a camera
 */
export function lineariseBundle(
  problem: BundleProblem,
  state: BundleState,
  { residualsPx, weights, normal }: Linearised,
): number {
  const slots = correctionsAt(problem);
  // Where everything shared is held, its share of the equations is not looked at.
  const { shared } = state;
  const posesAlone = problem.fixed?.length === shared.length;
  const lens = [shared.subarray(0, LENS_COUNT), shared.subarray(LENS_COUNT, 2 * LENS_COUNT)];
  const second = state.secondFromFirst;
  const projection = new Float64Array(PROJECTION_LENGTH);
  const indices = new Int32Array(LENS_COUNT + 6 + 3);
  const byU = new Float64Array(indices.length);
  const byV = new Float64Array(indices.length);
  const blockU = new Float64Array(6);
  const blockV = new Float64Array(6);
  normal.clear();
  let cost = 0;
  let at = 0;
  for (let f = 0; f < problem.frames.length; f++) {
    const frame = problem.frames[f];
    const pose = state.camFromTarget[f];
    const r = pose.rotation;
    const shift = pose.translation;
    for (const o of frame.observations) {
      const p = problem.targetPointsM[o.point];
      const c = slots[o.point];
      const px = c >= 0 ? p[0] + shared[c] : p[0];
      const py = c >= 0 ? p[1] + shared[c + 1] : p[1];
      const pz = c >= 0 ? p[2] + shared[c + 2] : p[2];
      // Turned into the first camera, and moved; the same again for the second. Numbers of their own: this loop must not allocate.
      const tx = r[0] * px + r[1] * py + r[2] * pz;
      const ty = r[3] * px + r[4] * py + r[5] * pz;
      const tz = r[6] * px + r[7] * py + r[8] * pz;
      const fx = tx + shift[0];
      const fy = ty + shift[1];
      const fz = tz + shift[2];
      const isSecond = o.camera === 1 && second !== null;
      let sx = fx;
      let sy = fy;
      let sz = fz;
      let inFront: boolean;
      if (isSecond) {
        const q = second.rotation;
        sx = q[0] * fx + q[1] * fy + q[2] * fz;
        sy = q[3] * fx + q[4] * fy + q[5] * fz;
        sz = q[6] * fx + q[7] * fy + q[8] * fz;
        const t = second.translation;
        inFront = projectWithAllDerivativesInto(projection, sx + t[0], sy + t[1], sz + t[2], lens[1]);
      } else inFront = projectWithAllDerivativesInto(projection, fx, fy, fz, lens[o.camera]);
      if (!inFront) return Number.POSITIVE_INFINITY;
      const eu = o.u - projection[0];
      const ev = o.v - projection[1];
      residualsPx[at] = eu;
      residualsPx[at + 1] = ev;
      const inverseSigma = 1 / o.sigmaPx;
      const squared = (eu * eu + ev * ev) * inverseSigma * inverseSigma;
      cost += problem.loss ? problem.loss.rho(squared) : squared;
      const weight = problem.loss ? problem.loss.weight(squared) : 1;
      weights[at / 2] = weight;
      at += 2;
      const k = Math.sqrt(weight) * inverseSigma;
      let n = LENS_COUNT;
      const firstOfLens = o.camera * LENS_COUNT;
      for (let i = 0; i < LENS_COUNT; i++) {
        indices[i] = firstOfLens + i;
        byU[i] = -k * projection[8 + i];
        byV[i] = -k * projection[8 + LENS_COUNT + i];
      }
      for (let axis = 0; axis < 2; axis++) {
        // The residual is observed minus computed, so its derivatives are those of the projection with a minus sign.
        const a = 2 + 3 * axis;
        const values = axis === 0 ? byU : byV;
        const block = axis === 0 ? blockU : blockV;
        let jx = -k * projection[a];
        let jy = -k * projection[a + 1];
        let jz = -k * projection[a + 2];
        n = LENS_COUNT;
        if (isSecond) {
          // d/d(delta) of exp(delta) y = -[y]x, so the row j becomes y x j.
          values[n] = sy * jz - sz * jy;
          values[n + 1] = sz * jx - sx * jz;
          values[n + 2] = sx * jy - sy * jx;
          values[n + 3] = jx;
          values[n + 4] = jy;
          values[n + 5] = jz;
          for (let i = 0; i < 6; i++) indices[n + i] = ROTATION_AT + i;
          n += 6;
          const q = second.rotation;
          const [x, y, z] = [jx, jy, jz];
          jx = x * q[0] + y * q[3] + z * q[6];
          jy = x * q[1] + y * q[4] + z * q[7];
          jz = x * q[2] + y * q[5] + z * q[8];
        }
        block[0] = ty * jz - tz * jy;
        block[1] = tz * jx - tx * jz;
        block[2] = tx * jy - ty * jx;
        block[3] = jx;
        block[4] = jy;
        block[5] = jz;
        if (c >= 0) {
          for (let i = 0; i < 3; i++) {
            indices[n + i] = c + i;
            values[n + i] = jx * r[i] + jy * r[3 + i] + jz * r[6 + i];
          }
          n += 3;
        }
      }
      normal.addPoint(k * eu, k * ev, posesAlone ? 0 : n, indices, byU, byV, f, blockU, blockV);
    }
    cost += addFramePriors(problem, f, pose, normal);
  }
  return cost + addRails(problem, state, normal) + addSharedPriors(problem, state, normal);
}

const NO_INDEX = new Int32Array(0);
const NO_VALUE = new Float64Array(0);

function addFramePriors(problem: BundleProblem, f: number, pose: RigidTransform, normal: NormalBlocks): number {
  const { depth, attitude } = problem.frames[f];
  let cost = 0;
  if (depth) {
    const r = (depth.valueM - pose.translation[2]) / depth.sigmaM;
    cost += r * r;
    normal.add(r, 0, NO_INDEX, NO_VALUE, f, Float64Array.of(0, 0, 0, 0, 0, -1 / depth.sigmaM));
  }
  if (attitude) {
    const v = vectorFromRotation(multiply(pose.rotation, transpose(attitude.rotation)));
    const byTurn = inverseLeftJacobian(v);
    for (let i = 0; i < 3; i++) {
      const r = v[i] / attitude.sigmaRad;
      cost += r * r;
      const row = Float64Array.of(byTurn[3 * i], byTurn[3 * i + 1], byTurn[3 * i + 2], 0, 0, 0);
      normal.add(
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

function addRails(problem: BundleProblem, state: BundleState, normal: NormalBlocks): number {
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
        normal.add(r, 2, Int32Array.of(at + k, at + 3 + k), byLine, f, byPose);
      }
    });
    const speed = Math.hypot(p[3], p[4], p[5]);
    const r = (speed - rail.speedMps) / rail.speedSigmaMps;
    cost += r * r;
    if (speed > 0)
      normal.add(
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

function addSharedPriors(problem: BundleProblem, state: BundleState, normal: NormalBlocks): number {
  const { shared } = state;
  let cost = 0;
  for (const prior of problem.priors ?? []) {
    let value = 0;
    for (const [i, factor] of prior.terms) value += factor * shared[i];
    const r = (prior.value - value) / prior.sigma;
    cost += r * r;
    normal.add(
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
      normal.add(r, 6, indices, values, -1, NO_VALUE);
      const q = turn[i] / pairPrior.rotationSigmaRad;
      const row = Float64Array.from({ length: 6 }, (_, j) =>
        j < 3 ? turnBy[3 * i + j] / pairPrior.rotationSigmaRad : 0,
      );
      cost += q * q;
      normal.add(q, 6, indices, row, -1, NO_VALUE);
    }
  }
  const one = new Int32Array(1);
  const slope = new Float64Array(1);
  correctionsAt(problem).forEach((at, point) => {
    if (at < 0) return;
    slope[0] = 1 / pointSigmaM(problem, point);
    for (let i = at; i < at + 3; i++) {
      const r = shared[i] * slope[0];
      cost += r * r;
      one[0] = i;
      normal.add(r, 1, one, slope, -1, NO_VALUE);
    }
  });
  return cost;
}
