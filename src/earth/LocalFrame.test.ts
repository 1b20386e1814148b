import { expect, test } from 'vitest';
import { DEG_PER_RAD } from '../maths/angle.ts';
import { determinant, multiply, multiplyVec, transpose } from '../maths/mat3.ts';
import { rotationFromYawPitchRoll } from '../maths/rotation.ts';
import { distance, type Vec3 } from '../maths/vec3.ts';
import type { Llh } from './Llh.ts';
import { localFrameAt } from './LocalFrame.ts';

const dms = (deg: number, min: number, sec: number) => deg + min / 60 + sec / 3600;

test('the topocentric example of PROJ (EPSG 9837): origin 55 N 5 E 200 m', () => {
  const enuM = localFrameAt([5, 55, 200]).enuFromLlh([dms(2, 7, 46.38), dms(53, 48, 33.82), 73]);
  // Printed to millimetres.
  expect(distance(enuM, [-189013.869, -128642.04, -4220.171])).toBeLessThan(0.002);
});

test('the local cartesian example of the GeographicLib manual: origin 33 N 44 E 20 m', () => {
  const enuM = localFrameAt([44, 33, 20]).enuFromLlh([44.4, 33.3, 6000]);
  // Printed to centimetres; the last one is 5783.6466 in GeographicLib 2.1.2.
  expect(distance(enuM, [37288.97, 33374.29, 5783.6466])).toBeLessThan(0.01);
});

test('local coordinates survive the way to longitude, latitude and height and back', () => {
  const frame = localFrameAt([13.7, 47.3, 812.4]);
  // Rounding of 6.4e6 m is 1e-9 m.
  for (const enuM of [
    [0, 0, 0],
    [-1234.5, 8765.25, 98.5],
    [20111, -3, -250.125],
  ] as Vec3[])
    expect(distance(frame.enuFromLlh(frame.llhFromEnu(enuM)), enuM)).toBeLessThan(1e-8);
});

test('at 10 km the plumb line leans by 0.0899 degrees from that of the origin, and a level plane drops 7.85 m', () => {
  const frame = localFrameAt([10, 47, 0]);
  const there = frame.llhFromEnu([10000, 0, 0]);
  const [, , up] = multiplyVec(frame.enuFromNedAt(there), [0, 0, -1]);
  // 10 km over the prime vertical radius 6389.6 km at 47 N is 0.08967 degrees; on a sphere of 6371 km 0.0899.
  expect(Math.acos(up) * DEG_PER_RAD).toBeCloseTo(0.08967, 4);
  // s^2 / 2R with that radius: 7.825 m; 7.85 m on the sphere.
  expect(there[2]).toBeCloseTo(7.825, 2);
});

test('navigation axes at the origin are north, east and down of the frame', () => {
  const frame = localFrameAt([-71.25, -33.5, 640]);
  const enuFromNed = frame.enuFromNedAt(frame.originLlh);
  const nearly = (v: Vec3) => v.map((x) => Math.round(x * 1e12) / 1e12 + 0);
  expect(nearly(multiplyVec(enuFromNed, [1, 0, 0]))).toEqual([0, 1, 0]);
  expect(nearly(multiplyVec(enuFromNed, [0, 1, 0]))).toEqual([1, 0, 0]);
  expect(nearly(multiplyVec(enuFromNed, [0, 0, 1]))).toEqual([0, 0, -1]);
});

test('a lever arm of 1.2, -0.4, 0.9 m at roll 10, pitch -5, heading 120 comes out in ENU as in SciPy', () => {
  const frame = localFrameAt([8, 50, 100]);
  const deg = Math.PI / 180;
  const nedFromBody = rotationFromYawPitchRoll(120 * deg, -5 * deg, 10 * deg);
  const enuM = multiplyVec(multiply(frame.enuFromNedAt(frame.originLlh), nedFromBody), [1.2, -0.4, 0.9]);
  // SciPy 1.10, Rotation.from_euler('ZYX'); axes then swapped.
  [1.2487227004, -0.0856266904, -0.9183461697].forEach((x, i) => expect(enuM[i]).toBeCloseTo(x, 9));
});

test('the axes far from the origin are still a rotation', () => {
  const m = localFrameAt([179.9, 12, 5]).enuFromNedAt([-179.8, 12.4, 900] as Llh);
  expect(determinant(m)).toBeCloseTo(1, 12);
  multiply(m, transpose(m)).forEach((x, i) => expect(x).toBeCloseTo(i % 4 === 0 ? 1 : 0, 12));
});
