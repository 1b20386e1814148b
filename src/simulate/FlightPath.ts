import { type Mat3, multiply, multiplyVec } from '../maths/mat3.ts';
import type { RigidTransform } from '../maths/rigidTransform.ts';
import { rotationFromYawPitchRoll } from '../maths/rotation.ts';
import { add, type Vec3 } from '../maths/vec3.ts';
import type { IslandFrame } from './islandFrame.ts';
import { type Wobble, wobbleAt, wobbleRateAt } from './Wobble.ts';

/** The way the drone meant to go, sampled evenly in time from `startS`, and what the wind made of it. */
export interface FlightPath {
  readonly startS: number;
  readonly stepS: number;
  /** Rows of east, north, up (m), heading and roll (rad, heading unwrapped). */
  readonly meant: Float64Array;
  readonly gusts: Readonly<Record<'east' | 'north' | 'up' | 'yaw' | 'pitch' | 'roll', Wobble>>;
}

export interface BodyPose {
  readonly positionEnuM: Vec3;
  readonly velocityEnuMps: Vec3;
  /** Against north-east-down at the aircraft. */
  readonly yawRad: number;
  readonly pitchRad: number;
  readonly rollRad: number;
}

const COLUMNS = 5;

/** Catmull-Rom spline through the samples: value and rate of one column. */
function meantAt(path: FlightPath, column: number, tS: number): readonly [value: number, rate: number] {
  const count = path.meant.length / COLUMNS;
  const at = Math.max(0, Math.min(count - 1.000001, (tS - path.startS) / path.stepS));
  const i = Math.floor(at);
  const u = at - i;
  const sample = (k: number) => path.meant[Math.max(0, Math.min(count - 1, k)) * COLUMNS + column] as number;
  const [p0, p1, p2, p3] = [sample(i - 1), sample(i), sample(i + 1), sample(i + 2)];
  const a = (-p0 + 3 * p1 - 3 * p2 + p3) / 2;
  const b = (2 * p0 - 5 * p1 + 4 * p2 - p3) / 2;
  const c = (p2 - p0) / 2;
  return [p1 + u * (c + u * (b + u * a)), (c + u * (2 * b + 3 * a * u)) / path.stepS];
}

export function bodyPoseAt(path: FlightPath, tS: number): BodyPose {
  const { gusts } = path;
  const [e, ve] = meantAt(path, 0, tS);
  const [n, vn] = meantAt(path, 1, tS);
  const [u, vu] = meantAt(path, 2, tS);
  return {
    positionEnuM: [e + wobbleAt(gusts.east, tS), n + wobbleAt(gusts.north, tS), u + wobbleAt(gusts.up, tS)],
    velocityEnuMps: [
      ve + wobbleRateAt(gusts.east, tS),
      vn + wobbleRateAt(gusts.north, tS),
      vu + wobbleRateAt(gusts.up, tS),
    ],
    yawRad: meantAt(path, 3, tS)[0] + wobbleAt(gusts.yaw, tS),
    pitchRad: wobbleAt(gusts.pitch, tS),
    rollRad: meantAt(path, 4, tS)[0] + wobbleAt(gusts.roll, tS),
  };
}

/** Where a camera stands and how it is turned: `enuFromCamera`, with the body's axes taken at its own place on the Earth. */
export function enuFromCameraAt(
  path: FlightPath,
  frame: IslandFrame,
  bodyFromCamera: RigidTransform,
  tS: number,
): RigidTransform {
  const pose = bodyPoseAt(path, tS);
  const nedFromBody = rotationFromYawPitchRoll(pose.yawRad, pose.pitchRad, pose.rollRad);
  const enuFromBody: Mat3 = multiply(frame.enuFromNedAt(pose.positionEnuM), nedFromBody);
  return {
    rotation: multiply(enuFromBody, bodyFromCamera.rotation),
    translation: add(pose.positionEnuM, multiplyVec(enuFromBody, bodyFromCamera.translation)),
  };
}
