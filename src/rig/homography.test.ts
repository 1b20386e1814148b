import { expect, test } from 'vitest';
import type { Mat3 } from '../maths/mat3.ts';
import { invert, multiply } from '../maths/mat3.ts';
import { rotationFromVector } from '../maths/rotation.ts';
import { applyHomography, homographyFromPoints } from './homography.ts';

test('the homography of four corners is returned to 1e-8 (OpenCV 4.6.0 projects the same corners)', () => {
  const h: Mat3 = [1.02, 0.03, 12.5, -0.015, 0.98, -7.25, 2e-5, -1e-5, 1];
  const from = [
    [0, 0],
    [640, 0],
    [640, 480],
    [0, 480],
  ] as const;
  const to = [
    [12.5, -7.25],
    [656.8917851501, -16.6370458136],
    [674.3055555556, 449.9503968254],
    [27.0297427653, 465.3838424437],
  ] as const;
  const found = homographyFromPoints(from, to)!;
  for (let i = 0; i < 9; i++) expect(Math.abs(found[i] - h[i])).toBeLessThan(1e-8);
  const middle = applyHomography(found, [320, 240]);
  expect(middle[0]).toBeCloseTo(344.7211155378, 7);
  expect(middle[1]).toBeCloseTo(222.2609561753, 7);
});

test('a plane at 40 m induces the homography K2 (R + t nT/d) K1^-1 (Hartley & Zisserman eq. 13.2)', () => {
  const k1: Mat3 = [1000, 0, 320, 0, 1000, 240, 0, 0, 1];
  const k2: Mat3 = [1200, 0, 400, 0, 1200, 300, 0, 0, 1];
  const r = [...rotationFromVector([0, 0.01, 0])];
  r[2] += -0.15 / 40;
  const h = multiply(multiply(k2, r as unknown as Mat3), invert(k1)!);
  const px = applyHomography(h, [395, 190]);
  // OpenCV 4.6.0 for the point (3, -2, 40).
  expect(px[0]).toBeCloseTo(497.5733574642, 9);
  expect(px[1]).toBeCloseTo(239.9519623455, 9);
});

test('points on one line fix no homography', () => {
  const from = [
    [0, 0],
    [1, 1],
    [2, 2],
    [3, 3],
    [5, 5],
  ] as const;
  expect(homographyFromPoints(from, from)).toBeNull();
});
