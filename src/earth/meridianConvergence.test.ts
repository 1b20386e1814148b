import { expect, test } from 'vitest';
import { meridianConvergenceDeg } from './meridianConvergence.ts';

// Values of PROJ 9.1.1 (proj -V, "Meridian convergence").
test.each([
  ['EPSG:32631', 5, 52, 1.576266],
  ['EPSG:32631', -2, 60, -4.332888],
] as const)('grid north of %s at %f, %f is turned as PROJ says', (code, lon, lat, deg) => {
  expect(Math.abs(meridianConvergenceDeg(code, lon, lat) - deg)).toBeLessThan(2e-5); // of a difference over 100 m
});

test('on the central meridian grid north is true north', () => {
  expect(Math.abs(meridianConvergenceDeg('EPSG:32735', 27, -31))).toBeLessThan(1e-9);
});
