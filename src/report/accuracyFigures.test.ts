import { expect, test } from 'vitest';
import { congruence, diagonal3 } from '../maths/mat3.ts';
import { rotationFromYawPitchRoll } from '../maths/rotation.ts';
import { accuracyFigures, circleRadius } from './accuracyFigures.ts';

test('the 95 % circle is 2.44775 sigma where both axes are equal and 1.95996 where one vanishes', () => {
  // Tables of chi-square with 2 and 1 degrees of freedom, roots of 5.99146 and 3.84146.
  expect(circleRadius(0.3, 0.3, 0.95) / 0.3).toBeCloseTo(2.44775, 5);
  expect(circleRadius(0.3, 0.0001, 0.95) / 0.3).toBeCloseTo(1.95996, 5);
});

test('half the shots of a round gun fall within 1.17741 sigma', () => {
  // Circular error probable: the root of 2 ln 2.
  expect(circleRadius(2, 2, 0.5) / 2).toBeCloseTo(1.17741, 5);
});

test('unequal axes have the 95 % circle that integrating the normal law over x gives', () => {
  // SciPy 1.17.1: quad of norm.pdf(x) (2 norm.cdf(sqrt(r^2 - x^2) / b) - 1), root by brentq.
  expect(circleRadius(1, 0.7, 0.95)).toBeCloseTo(2.14598113, 7);
  expect(circleRadius(1, 0.5, 0.95)).toBeCloseTo(2.03585872, 7);
  expect(circleRadius(1, 0.1, 0.95)).toBeCloseTo(1.9625296, 7);
});

test('a turned ellipsoid gives back its half-axes and their directions', () => {
  const rad = Math.PI / 180;
  const turn = rotationFromYawPitchRoll(25 * rad, -10 * rad, 0);
  const figures = accuracyFigures(congruence(turn, diagonal3(0.25, 0.04, 0.01)));
  // The root of 7.81473, chi-square with 3 degrees of freedom at 95 %.
  [0.5, 0.2, 0.1].forEach((sigma, k) => expect(figures.ellipsoid[k]!.lengthM).toBeCloseTo(2.79548 * sigma, 5));
  // Yaw 25 degrees from east towards north leaves azimuth 65; pitch of -10 about the turned y axis lifts the x axis.
  expect(figures.ellipsoid[0].azimuthDeg).toBeCloseTo(65, 6);
  expect(figures.ellipsoid[0].elevationDeg).toBeCloseTo(10, 6);
});

test('the vertical figure is 1.95996 sigma of the height', () => {
  expect(accuracyFigures(diagonal3(1, 1, 0.0625)).verticalM).toBeCloseTo(1.95996 * 0.25, 5);
});
