import { degFromRad } from '../../maths/angle.ts';
import { multiplyVec } from '../../maths/mat3.ts';
import type { RigidTransform } from '../../maths/rigidTransform.ts';

/** Where the uv camera's axis points, seen from the body. */
export interface CameraLook {
  /** Clockwise from the nose, degrees, -180 to 180: 90 looks out to the right. */
  readonly azimuthDeg: number;
  /** Below the body's level, degrees. */
  readonly depressionDeg: number;
}

export function cameraLook(bodyFromUv: RigidTransform): CameraLook {
  const [forward, right, down] = multiplyVec(bodyFromUv.rotation, [0, 0, 1]);
  return {
    azimuthDeg: degFromRad(Math.atan2(right, forward)),
    depressionDeg: degFromRad(Math.asin(Math.max(-1, Math.min(1, down)))),
  };
}

/** Steeper than this there are no two sides of a line to fly on. */
export const STEEPEST_DEG = 60;
