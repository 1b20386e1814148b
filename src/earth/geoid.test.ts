import { expect, test } from 'vitest';
import { egm96UndulationM, heightSlip } from './geoid.ts';

// NGA, EGM96 sample output (spline); Timbuktu from the GeographicLib GeoidEval manual (cubic). Bilinear interpolation of
// the same grid differs by up to 0.056 m.
test.each([
  [269.779155, 38.628155, -31.628],
  [305.021114, -14.621217, -2.969],
  [102.448729, 46.874319, -43.575],
  [133.874712, -23.617446, 15.871],
  [359.9995, 38.625473, 50.066],
  [0.0023, -0.466744, 17.329],
  [-(3 + 0 / 60 + 34 / 3600), 16 + 46 / 60 + 33 / 3600, 28.7068],
])('at %d E, %d N the EGM96 geoid lies %d m above the ellipsoid', (lon, lat, undulationM) => {
  expect(Math.abs(egm96UndulationM(lon, lat) - undulationM)).toBeLessThan(0.06);
});

test('a shift of the size of the geoid is named, a small one or another one is not', () => {
  expect(heightSlip(-47.2, 0.3, 47.5)).toBe('geoid left out');
  expect(heightSlip(47.9, 0.3, 47.5)).toBe('geoid added twice');
  expect(heightSlip(0.4, 0.3, 47.5)).toBeNull();
  expect(heightSlip(-20, 0.3, 47.5)).toBeNull();
  // Where the geoid is within 2 m of the ellipsoid, it cannot be told from a plain error.
  expect(heightSlip(-1.9, 0.3, 1.9)).toBeNull();
});
