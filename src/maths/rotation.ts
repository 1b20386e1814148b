import { type Mat3, multiply } from './mat3.ts';
import type { Vec3 } from './vec3.ts';

export const rotationX = (rad: number): Mat3 => {
  const c = Math.cos(rad);
  const s = Math.sin(rad);
  return [1, 0, 0, 0, c, -s, 0, s, c];
};

export const rotationY = (rad: number): Mat3 => {
  const c = Math.cos(rad);
  const s = Math.sin(rad);
  return [c, 0, s, 0, 1, 0, -s, 0, c];
};

export const rotationZ = (rad: number): Mat3 => {
  const c = Math.cos(rad);
  const s = Math.sin(rad);
  return [c, -s, 0, s, c, 0, 0, 0, 1];
};

/**
 * The rotation Rz(yaw) · Ry(pitch) · Rx(roll), the aerospace order: with yaw the true heading, `nedFromBody`.
 * Source: ISO 1151-1 (from memory); check values in rotation.test.ts from SciPy.
 */
export const rotationFromYawPitchRoll = (yawRad: number, pitchRad: number, rollRad: number): Mat3 =>
  multiply(multiply(rotationZ(yawRad), rotationY(pitchRad)), rotationX(rollRad));

/** The inverse of rotationFromYawPitchRoll: yaw in (-pi, pi], pitch in [-pi/2, pi/2], roll in (-pi, pi]. */
export function yawPitchRollFromRotation(m: Mat3): { yawRad: number; pitchRad: number; rollRad: number } {
  return {
    yawRad: Math.atan2(m[3], m[0]),
    pitchRad: -Math.asin(Math.max(-1, Math.min(1, m[6]))),
    rollRad: Math.atan2(m[7], m[8]),
  };
}

/** The skew-symmetric matrix with [v]x · w = v x w. */
export const crossMatrix = (v: Vec3): Mat3 => [0, -v[2], v[1], v[2], 0, -v[0], -v[1], v[0], 0];

/** Rodrigues' formula: the rotation about `rotationVectorRad` by its length. */
export function rotationFromVector(rotationVectorRad: Vec3): Mat3 {
  const [x, y, z] = rotationVectorRad;
  const angle = Math.hypot(x, y, z);
  // Below 1e-8 rad the series 1 - angle^2/6 and 1/2 - angle^2/24 are exact in double precision.
  const s = angle < 1e-8 ? 1 : Math.sin(angle) / angle;
  const c = angle < 1e-8 ? 0.5 : (1 - Math.cos(angle)) / (angle * angle);
  return [
    1 - c * (y * y + z * z),
    c * x * y - s * z,
    c * x * z + s * y,
    c * x * y + s * z,
    1 - c * (x * x + z * z),
    c * y * z - s * x,
    c * x * z - s * y,
    c * y * z + s * x,
    1 - c * (x * x + y * y),
  ];
}

/** The rotation vector (axis times angle, 0 to pi) of a rotation matrix; through the quaternion, so also near pi. */
export function vectorFromRotation(m: Mat3): Vec3 {
  const [w, x, y, z] = quaternionFromRotation(m);
  const sine = Math.hypot(x, y, z);
  if (sine < 1e-12) return [2 * x, 2 * y, 2 * z];
  const k = (2 * Math.atan2(sine, w)) / sine;
  return [x * k, y * k, z * k];
}

/** A unit quaternion, scalar first; q and -q are the same rotation. */
export type Quaternion = readonly [w: number, x: number, y: number, z: number];

/** Shepperd's method: divides by the largest of the four components, so it is stable everywhere. Returns w >= 0. */
export function quaternionFromRotation(m: Mat3): Quaternion {
  const t = m[0] + m[4] + m[8];
  let q: [number, number, number, number];
  if (t >= m[0] && t >= m[4] && t >= m[8]) {
    const s = Math.sqrt(1 + t) * 2;
    q = [s / 4, (m[7] - m[5]) / s, (m[2] - m[6]) / s, (m[3] - m[1]) / s];
  } else if (m[0] >= m[4] && m[0] >= m[8]) {
    const s = Math.sqrt(1 + m[0] - m[4] - m[8]) * 2;
    q = [(m[7] - m[5]) / s, s / 4, (m[1] + m[3]) / s, (m[2] + m[6]) / s];
  } else if (m[4] >= m[8]) {
    const s = Math.sqrt(1 + m[4] - m[0] - m[8]) * 2;
    q = [(m[2] - m[6]) / s, (m[1] + m[3]) / s, s / 4, (m[5] + m[7]) / s];
  } else {
    const s = Math.sqrt(1 + m[8] - m[0] - m[4]) * 2;
    q = [(m[3] - m[1]) / s, (m[2] + m[6]) / s, (m[5] + m[7]) / s, s / 4];
  }
  return q[0] < 0 ? [-q[0], -q[1], -q[2], -q[3]] : q;
}

export function rotationFromQuaternion([w, x, y, z]: Quaternion): Mat3 {
  return [
    1 - 2 * (y * y + z * z),
    2 * (x * y - w * z),
    2 * (x * z + w * y),
    2 * (x * y + w * z),
    1 - 2 * (x * x + z * z),
    2 * (y * z - w * x),
    2 * (x * z - w * y),
    2 * (y * z + w * x),
    1 - 2 * (x * x + y * y),
  ];
}

/** Constant-rate rotation from a (at 0) to b (at 1) the short way round. Source: Shoemake, SIGGRAPH 1985 (from memory). */
export function slerp(a: Quaternion, b: Quaternion, at: number): Quaternion {
  let cosine = a[0] * b[0] + a[1] * b[1] + a[2] * b[2] + a[3] * b[3];
  const sign = cosine < 0 ? -1 : 1;
  cosine *= sign;
  // Below about 1e-4 rad the sines cancel; the straight line differs from the arc by less than 1e-12 there.
  const angle = cosine > 1 - 1e-9 ? 0 : Math.acos(cosine);
  const ka = angle === 0 ? 1 - at : Math.sin((1 - at) * angle) / Math.sin(angle);
  const kb = sign * (angle === 0 ? at : Math.sin(at * angle) / Math.sin(angle));
  const q = [0, 1, 2, 3].map((i) => ka * (a[i] as number) + kb * (b[i] as number)) as [number, number, number, number];
  const k = 1 / Math.hypot(...q);
  return [q[0] * k, q[1] * k, q[2] * k, q[3] * k];
}
