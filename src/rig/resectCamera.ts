import { Matrix } from 'ml-matrix';
import type { Lens } from '../camera/Lens.ts';
import { invertSymmetric } from '../maths/leastSquares.ts';
import { multiply } from '../maths/mat3.ts';
import { type RigidTransform, transformPoint } from '../maths/rigidTransform.ts';
import { huber } from '../maths/robustLoss.ts';
import { rotationFromVector } from '../maths/rotation.ts';
import type { Vec3 } from '../maths/vec3.ts';
import type { SeenMark } from './BenchObservations.ts';
import { lensVector, PROJECTION_LENGTH, projectWithAllDerivativesInto } from './lensDerivative.ts';

export interface CameraPose {
  readonly pose: RigidTransform;
  /** Of a small rotation vector on the left of the pose (rad) and of its translation (m), for the sigmas as stated. */
  readonly covariance: Matrix;
}

const LOSS = huber(2.5);

/**
 * The pose of a known target from one image of it, the lens held: robust Gauss-Newton from a start near by.
 * @param targetM at least four points
 * @returns       camFromTarget; null where the points do not fix it, or a point would lie behind the camera
 */
export function resectCamera(
  targetM: readonly Vec3[],
  seen: readonly SeenMark[],
  lens: Lens,
  start: RigidTransform,
): CameraPose | null {
  if (seen.length < 4) return null;
  const vector = lensVector(lens);
  const projection = new Float64Array(PROJECTION_LENGTH);
  const row = new Float64Array(6);
  let pose = start;
  for (let step = 0; step < 30; step++) {
    const normal = new Matrix(6, 6);
    const gradient = new Float64Array(6);
    for (let i = 0; i < seen.length; i++) {
      const at = transformPoint(pose, targetM[i]);
      if (!projectWithAllDerivativesInto(projection, at[0], at[1], at[2], vector)) return null;
      const { u, v, sigmaPx } = seen[i];
      const off = [u - projection[0], v - projection[1]];
      const weight = LOSS.weight((off[0] ** 2 + off[1] ** 2) / sigmaPx ** 2) / sigmaPx ** 2;
      for (let axis = 0; axis < 2; axis++) {
        poseRowInto(row, projection, axis, at, pose);
        for (let a = 0; a < 6; a++) {
          gradient[a] += weight * row[a] * off[axis];
          for (let b = 0; b < 6; b++) normal.set(a, b, normal.get(a, b) + weight * row[a] * row[b]);
        }
      }
    }
    const covariance = invertSymmetric(normal);
    if (!covariance) return null;
    const d = Array.from({ length: 6 }, (_, a) => gradient.reduce((sum, g, b) => sum + covariance.get(a, b) * g, 0));
    pose = {
      rotation: multiply(rotationFromVector([d[0], d[1], d[2]]), pose.rotation),
      translation: [pose.translation[0] + d[3], pose.translation[1] + d[4], pose.translation[2] + d[5]],
    };
    if (d.every((x, a) => Math.abs(x) < 1e-3 * Math.sqrt(covariance.get(a, a)))) return { pose, covariance };
  }
  return null;
}

/** Where a point of the target is seen from a pose, with the standard deviation that the pose's error gives it, px. */
export function seenFrom({ pose, covariance }: CameraPose, pointM: Vec3, lens: Lens): SeenMark | null {
  const projection = new Float64Array(PROJECTION_LENGTH);
  const at = transformPoint(pose, pointM);
  if (!projectWithAllDerivativesInto(projection, at[0], at[1], at[2], lensVector(lens))) return null;
  const row = new Float64Array(6);
  let variance = 0;
  for (let axis = 0; axis < 2; axis++) {
    poseRowInto(row, projection, axis, at, pose);
    for (let a = 0; a < 6; a++) for (let b = 0; b < 6; b++) variance += (row[a] * row[b] * covariance.get(a, b)) / 2;
  }
  return { u: projection[0], v: projection[1], sigmaPx: Math.sqrt(variance) };
}

/** Derivative of one pixel coordinate by the pose: a turn moves the point, seen from the target's origin. */
function poseRowInto(row: Float64Array, projection: Float64Array, axis: number, at: Vec3, pose: RigidTransform): void {
  const k = 2 + 3 * axis;
  const j: Vec3 = [projection[k], projection[k + 1], projection[k + 2]];
  const t = pose.translation;
  const [x, y, z] = [at[0] - t[0], at[1] - t[1], at[2] - t[2]];
  row[0] = y * j[2] - z * j[1];
  row[1] = z * j[0] - x * j[2];
  row[2] = x * j[1] - y * j[0];
  row.set(j, 3);
}
