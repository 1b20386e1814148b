import { expect, test } from 'vitest';
import { diagonal3, multiply, multiplyVec, transpose } from '../maths/mat3.ts';
import { rotationFromVector } from '../maths/rotation.ts';
import { dot } from '../maths/vec3.ts';
import { confidenceFactor, errorEllipsoid, squaredMahalanobis } from './errorEllipsoid.ts';
import { positionalAccuracy } from './positionalAccuracy.ts';

test('the worked example of the ASPRS standard of 2014, annex D, gives its printed figures', () => {
  const dx = [-0.14, -0.1, 0.017, -0.07, 0.13];
  const dy = [-0.07, -0.1, -0.07, 0.15, 0.12];
  const dz = [-0.071, 0.01, 0.102, -0.1, 0.087];
  const found = positionalAccuracy(dx.map((x, i) => [x, dy[i], dz[i]] as const));
  expect(found.rmseEastM).toBeCloseTo(0.102, 3);
  expect(found.rmseNorthM).toBeCloseTo(0.106, 3);
  expect(found.rmseUpM).toBeCloseTo(0.081, 3);
  expect(found.rmseHorizontalM).toBeCloseTo(0.147, 3);
  expect(found.rmse3dM).toBeCloseTo(0.1682, 4);
  expect(found.nssdaVertical95M).toBeCloseTo(0.16, 2);
  // The example multiplies RMSE_r by 1.7308 though its two axes differ by 4 %: 0.255. The mean rule gives the same.
  expect(found.nssdaHorizontal95M).toBeCloseTo(0.255, 3);
  expect(found.cautions).toEqual(['5 checkpoints; 30 are asked for']);
});

test('confidence factors are the roots of chi-square tables', () => {
  expect(confidenceFactor(0.95, 1)).toBeCloseTo(1.95996, 5);
  expect(confidenceFactor(0.95, 2)).toBeCloseTo(2.44775, 5);
  expect(confidenceFactor(0.95, 3)).toBeCloseTo(2.79548, 5);
  expect(confidenceFactor(0.99, 3)).toBeCloseTo(3.36821, 5);
});

test('a turned covariance gives its own axes back', () => {
  const turn = rotationFromVector([0.4, -0.2, 0.9]);
  const covariance = multiply(multiply(turn, diagonal3(0.01, 0.25, 0.04)), transpose(turn));
  const found = errorEllipsoid(covariance);
  expect(found.halfAxesM[0]).toBeCloseTo(2.79548 * 0.5, 5);
  expect(found.halfAxesM[1]).toBeCloseTo(2.79548 * 0.2, 5);
  expect(found.halfAxesM[2]).toBeCloseTo(2.79548 * 0.1, 5);
  expect(Math.abs(dot(found.axesEnu[0], multiplyVec(turn, [0, 1, 0])))).toBeCloseTo(1, 9);
  expect(squaredMahalanobis(multiplyVec(turn, [0, 1, 0]), covariance)).toBeCloseTo(4, 9);
});

test('an error that runs to the north-east has its long axis at bearing 45 degrees', () => {
  const found = errorEllipsoid([0.05, 0.04, 0, 0.04, 0.05, 0, 0, 0, 0.01]);
  expect(found.horizontal.bearingDeg).toBeCloseTo(45, 9);
  expect(found.horizontal.majorM).toBeCloseTo(2.44775 * 0.3, 5);
  expect(found.horizontal.minorM).toBeCloseTo(2.44775 * 0.1, 5);
  expect(found.verticalM).toBeCloseTo(0.195996, 5);
});
