import { IDENTITY3, type Mat3, multiply, multiplyVec, transpose } from './mat3.ts';
import { add, scale, type Vec3 } from './vec3.ts';

/**
 * A rotation followed by a translation. A value is called `aFromB` when it takes coordinates in frame b to
 * coordinates in frame a, so that products read with the inner names meeting: `compose(aFromB, bFromC)` is `aFromC`.
 */
export interface RigidTransform {
  /** Orthonormal, determinant +1. */
  readonly rotation: Mat3;
  /** Origin of the right-hand frame, in the left-hand frame. Metres unless said otherwise. */
  readonly translation: Vec3;
}

export const IDENTITY_TRANSFORM: RigidTransform = { rotation: IDENTITY3, translation: [0, 0, 0] };

export const compose = (aFromB: RigidTransform, bFromC: RigidTransform): RigidTransform => ({
  rotation: multiply(aFromB.rotation, bFromC.rotation),
  translation: add(multiplyVec(aFromB.rotation, bFromC.translation), aFromB.translation),
});

export function inverse(aFromB: RigidTransform): RigidTransform {
  const rotation = transpose(aFromB.rotation);
  return { rotation, translation: scale(multiplyVec(rotation, aFromB.translation), -1) };
}

export const transformPoint = (aFromB: RigidTransform, pointB: Vec3): Vec3 =>
  add(multiplyVec(aFromB.rotation, pointB), aFromB.translation);

export const transformDirection = (aFromB: RigidTransform, directionB: Vec3): Vec3 =>
  multiplyVec(aFromB.rotation, directionB);
