import type { Quaternion } from '../maths/rotation.ts';
import type { Vec3 } from '../maths/vec3.ts';

/** Row i of an array of quaternions (w, x, y, z). */
export const quaternionAt = (rows: Float64Array, i: number): Quaternion => [
  rows[4 * i],
  rows[4 * i + 1],
  rows[4 * i + 2],
  rows[4 * i + 3],
];

/**
 * The rotation vector, in the axes of the left-hand frame, that turns aFromB1 into aFromB2 the short way:
 * b = exp([v]x) a. Radians, at most pi long.
 */
export function vectorBetween(a: Quaternion, b: Quaternion): Vec3 {
  let w = b[0] * a[0] + b[1] * a[1] + b[2] * a[2] + b[3] * a[3];
  let x = -b[0] * a[1] + b[1] * a[0] - b[2] * a[3] + b[3] * a[2];
  let y = -b[0] * a[2] + b[1] * a[3] + b[2] * a[0] - b[3] * a[1];
  let z = -b[0] * a[3] - b[1] * a[2] + b[2] * a[1] + b[3] * a[0];
  if (w < 0) [w, x, y, z] = [-w, -x, -y, -z];
  const sine = Math.hypot(x, y, z);
  // Below 1e-12 the angle is 2 sine to rounding.
  const k = sine < 1e-12 ? 2 : (2 * Math.atan2(sine, w)) / sine;
  return [x * k, y * k, z * k];
}
