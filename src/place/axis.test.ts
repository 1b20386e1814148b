import { expect, test } from 'vitest';
import { diagonal3 } from '../maths/mat3.ts';
import { circleLikelihood } from './axis.ts';

/** Modified Bessel function of order nought, by its power series. */
function besselI0(x: number): number {
  let term = 1;
  let sum = 1;
  for (let k = 1; k < 60; k++) {
    term *= (x / (2 * k)) ** 2;
    sum += term;
  }
  return sum;
}

test('a source on a circle, seen with the same error in all directions, is spread as the Rice distribution has it', () => {
  const [radius, sigma] = [0.2, 0.1];
  for (const [away, above] of [
    [0, 0],
    [0.13, 0.02],
    [0.21, -0.15],
    [0.5, 0.1],
  ]) {
    // In the plane of the circle's axis, east of it and turned by 30 degrees.
    const place = [7 + away * Math.cos(0.52), -3 + away * Math.sin(0.52), 40 + above] as const;
    const said = circleLikelihood([7, -3, 40], [0, 0, 1], radius, place, diagonal3(sigma ** 2, sigma ** 2, sigma ** 2));
    const rice =
      (2 * Math.PI * sigma ** 2) ** -1.5 *
      Math.exp(-(away ** 2 + radius ** 2 + above ** 2) / (2 * sigma ** 2)) *
      besselI0((away * radius) / sigma ** 2);
    // Sixteen points for the circle leave 1e-6 where sigma is half the radius.
    expect(Math.abs(said / rice - 1)).toBeLessThan(1e-5);
  }
});

test('a circle that leans has its likelihood lean with it', () => {
  const at = (axis: readonly [number, number, number], place: readonly [number, number, number]): number =>
    circleLikelihood([0, 0, 0], axis, 0.2, place, diagonal3(1e-4, 1e-4, 1e-4));
  expect(at([1, 0, 0], [0, 0, 0.2])).toBeGreaterThan(1e6 * at([1, 0, 0], [0.2, 0, 0]));
  expect(at([0, 0, 1], [0.2, 0, 0])).toBeGreaterThan(1e6 * at([0, 0, 1], [0, 0, 0.2]));
});
