import { expect, test } from 'vitest';
import { randomFrom } from '../maths/random.ts';
import { idealLens, type Lens } from './Lens.ts';
import { foldRadiusSquared, projectPoint, projectWithDerivative } from './projectPoint.ts';
import { rayFromPixel } from './rayFromPixel.ts';

const LENS: Lens = {
  widthPx: 1280,
  heightPx: 1024,
  fxPx: 1000,
  fyPx: 1000,
  cxPx: 640,
  cyPx: 512,
  k1: -0.2,
  k2: 0.05,
  p1: 0.001,
  p2: -0.0005,
  k3: 0.01,
};

test('a distorted projection is the one of OpenCV projectPoints', () => {
  // OpenCV 4.6.0: projectPoints of (0.4, -0.3, 2) with this K and (k1, k2, p1, p2, k3); the formula worked by hand agrees.
  const px = projectPoint([0.4, -0.3, 2], LENS);
  expect(px?.[0]).toBeCloseTo(837.4083007813, 9);
  expect(px?.[1]).toBeCloseTo(363.9828369141, 9);
});

test('a lens with k1 = -0.3 alone folds at r = 1/sqrt(0.9), and nothing is projected beyond', () => {
  const lens = { ...idealLens(1000, 800, 700), k1: -0.3 };
  expect(Math.sqrt(foldRadiusSquared(lens))).toBeCloseTo(1 / Math.sqrt(0.9), 10);
  expect(projectPoint([1.06, 0, 1], lens)).toBeNull();
  expect(projectPoint([1.05, 0, 1], lens)).not.toBeNull();
});

test('undistorting a distorted pixel returns its direction, out to the corners, seed 5', () => {
  const random = randomFrom(5);
  for (let i = 0; i < 500; i++) {
    const x = (random.uniform() - 0.5) * 1.28;
    const y = (random.uniform() - 0.5) * 1.02;
    const px = projectPoint([x * 7, y * 7, 7], LENS)!;
    const ray = rayFromPixel(px, LENS)!;
    expect(Math.abs(ray[0] / ray[2] - x)).toBeLessThan(1e-11);
    expect(Math.abs(ray[1] / ray[2] - y)).toBeLessThan(1e-11);
  }
});

test('the derivative of the projection is its finite difference', () => {
  const at = [0.9, 0.7, 3.1] as const;
  const { byPoint } = projectWithDerivative(at, LENS)!;
  for (let axis = 0; axis < 3; axis++) {
    const step = 1e-6;
    const moved = (sign: number) =>
      projectPoint(
        [
          at[0] + (axis === 0 ? sign * step : 0),
          at[1] + (axis === 1 ? sign * step : 0),
          at[2] + (axis === 2 ? sign * step : 0),
        ],
        LENS,
      )!;
    for (const row of [0, 1]) {
      const difference = (moved(1)[row] - moved(-1)[row]) / (2 * step);
      expect(byPoint[row * 3 + axis]).toBeCloseTo(difference, 4); // central difference of 1e3 px/m: rounding 1e-6 and less
    }
  }
});

test('a point on or behind the camera plane has no pixel', () => {
  expect(projectPoint([0.1, 0.1, 0], LENS)).toBeNull();
  expect(projectPoint([0.1, 0.1, -2], LENS)).toBeNull();
  expect(projectPoint([0.1, 0.1, Number.NaN], LENS)).toBeNull();
});
