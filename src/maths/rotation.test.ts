import { expect, test } from 'vitest';
import { radFromDeg } from './angle.ts';
import { determinant, multiply, transpose } from './mat3.ts';
import {
  quaternionFromRotation,
  rotationFromQuaternion,
  rotationFromVector,
  rotationFromYawPitchRoll,
  slerp,
  vectorFromRotation,
  yawPitchRollFromRotation,
} from './rotation.ts';
import { norm, subtract, type Vec3 } from './vec3.ts';

const attitude = (rollDeg: number, pitchDeg: number, headingDeg: number) =>
  rotationFromYawPitchRoll(radFromDeg(headingDeg), radFromDeg(pitchDeg), radFromDeg(rollDeg));

test('roll 10, pitch -5, heading 120 degrees give the matrix and quaternion of SciPy Rotation "ZYX"', () => {
  const m = attitude(10, -5, 120);
  // SciPy 1.10, spatial.transform.Rotation.from_euler('ZYX', [120, -5, 10], degrees=True).
  const expected = [
    -0.498097349, -0.845301314, 0.193299559, 0.862729916, -0.505510683, 0.012491699, 0.087155743, 0.172987394,
    0.981060262,
  ];
  m.forEach((x, i) => expect(x).toBeCloseTo(expected[i] as number, 8));
  const q = quaternionFromRotation(m);
  [0.4943309192, 0.0811681453, 0.0536805467, 0.863809628].forEach((x, i) => expect(q[i]).toBeCloseTo(x, 8));
});

test('nose up by ten degrees points the forward axis above the horizon', () => {
  const m = attitude(0, 10, 0);
  expect([m[0], m[3], m[6]].map((x) => Number(x.toFixed(5)))).toEqual([0.98481, 0, -0.17365]);
});

test.each([1e-10, 1e-6, 0.3, 2, 3.1, Math.PI - 1e-9])(
  'a rotation vector of %d rad survives the way to a matrix and back',
  (angle) => {
    const axis: Vec3 = [0.48, -0.6, 0.64];
    const v: Vec3 = [axis[0] * angle, axis[1] * angle, axis[2] * angle];
    const m = rotationFromVector(v);
    expect(determinant(m)).toBeCloseTo(1, 12);
    multiply(m, transpose(m)).forEach((x, i) => expect(x).toBeCloseTo(i % 4 === 0 ? 1 : 0, 12));
    // Near pi the quaternion's scalar part is the sine of a tiny angle; 1e-8 rad is its rounding there.
    expect(norm(subtract(vectorFromRotation(m), v))).toBeLessThan(1e-8);
  },
);

test('yaw, pitch and roll come back from their matrix', () => {
  const { yawRad, pitchRad, rollRad } = yawPitchRollFromRotation(attitude(-33, 41, 277));
  expect(rollRad).toBeCloseTo(radFromDeg(-33), 12);
  expect(pitchRad).toBeCloseTo(radFromDeg(41), 12);
  expect(yawRad).toBeCloseTo(radFromDeg(277 - 360), 12);
});

test('half way between two attitudes across north is SciPy Slerp at 0.5 and 0.25', () => {
  const a = quaternionFromRotation(attitude(-1, 2, 350));
  const b = quaternionFromRotation(attitude(4, -3, 10));
  const degAt = (at: number) => {
    const e = yawPitchRollFromRotation(rotationFromQuaternion(slerp(a, b, at)));
    return [e.yawRad, e.pitchRad, e.rollRad].map((x) => (x * 180) / Math.PI);
  };
  // SciPy 1.10, spatial.transform.Slerp between (heading 350, pitch 2, roll -1) and (10, -3, 4) degrees.
  [0.053069, -0.28135, 1.71839].forEach((x, i) => expect(degAt(0.5)[i]).toBeCloseTo(x, 5));
  [355.040844 - 360, 0.918974, 0.40948].forEach((x, i) => expect(degAt(0.25)[i]).toBeCloseTo(x, 5));
});
