import type { Vec3 } from './vec3.ts';

/** A 3 x 3 matrix, row by row. */
export type Mat3 = readonly [number, number, number, number, number, number, number, number, number];

export const IDENTITY3: Mat3 = [1, 0, 0, 0, 1, 0, 0, 0, 1];

export const diagonal3 = (a: number, b: number, c: number): Mat3 => [a, 0, 0, 0, b, 0, 0, 0, c];

export function multiply(a: Mat3, b: Mat3): Mat3 {
  return [
    a[0] * b[0] + a[1] * b[3] + a[2] * b[6],
    a[0] * b[1] + a[1] * b[4] + a[2] * b[7],
    a[0] * b[2] + a[1] * b[5] + a[2] * b[8],
    a[3] * b[0] + a[4] * b[3] + a[5] * b[6],
    a[3] * b[1] + a[4] * b[4] + a[5] * b[7],
    a[3] * b[2] + a[4] * b[5] + a[5] * b[8],
    a[6] * b[0] + a[7] * b[3] + a[8] * b[6],
    a[6] * b[1] + a[7] * b[4] + a[8] * b[7],
    a[6] * b[2] + a[7] * b[5] + a[8] * b[8],
  ];
}

export const multiplyVec = (m: Mat3, v: Vec3): Vec3 => [
  m[0] * v[0] + m[1] * v[1] + m[2] * v[2],
  m[3] * v[0] + m[4] * v[1] + m[5] * v[2],
  m[6] * v[0] + m[7] * v[1] + m[8] * v[2],
];

export const transpose = (m: Mat3): Mat3 => [m[0], m[3], m[6], m[1], m[4], m[7], m[2], m[5], m[8]];

export const addMat = (a: Mat3, b: Mat3): Mat3 => a.map((x, i) => x + (b[i] as number)) as unknown as Mat3;

export const scaleMat = (a: Mat3, k: number): Mat3 => a.map((x) => x * k) as unknown as Mat3;

export const trace = (m: Mat3): number => m[0] + m[4] + m[8];

export const determinant = (m: Mat3): number =>
  m[0] * (m[4] * m[8] - m[5] * m[7]) - m[1] * (m[3] * m[8] - m[5] * m[6]) + m[2] * (m[3] * m[7] - m[4] * m[6]);

/** The inverse, or null where the matrix is singular to rounding (|det| below 1e-14 of the product of row lengths). */
export function invert(m: Mat3): Mat3 | null {
  const det = determinant(m);
  const size = Math.hypot(m[0], m[1], m[2]) * Math.hypot(m[3], m[4], m[5]) * Math.hypot(m[6], m[7], m[8]);
  if (!(Math.abs(det) > 1e-14 * size)) return null;
  const k = 1 / det;
  return [
    (m[4] * m[8] - m[5] * m[7]) * k,
    (m[2] * m[7] - m[1] * m[8]) * k,
    (m[1] * m[5] - m[2] * m[4]) * k,
    (m[5] * m[6] - m[3] * m[8]) * k,
    (m[0] * m[8] - m[2] * m[6]) * k,
    (m[2] * m[3] - m[0] * m[5]) * k,
    (m[3] * m[7] - m[4] * m[6]) * k,
    (m[1] * m[6] - m[0] * m[7]) * k,
    (m[0] * m[4] - m[1] * m[3]) * k,
  ];
}

/** a · m · aᵀ: how a covariance m turns when its vector is mapped by a. */
export const congruence = (a: Mat3, m: Mat3): Mat3 => multiply(multiply(a, m), transpose(a));

/** vᵀ · m · v. */
export const quadraticForm = (m: Mat3, v: Vec3): number => {
  const [x, y, z] = multiplyVec(m, v);
  return x * v[0] + y * v[1] + z * v[2];
};
