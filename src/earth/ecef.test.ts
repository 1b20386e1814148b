import fc from 'fast-check';
import geodesic from 'geographiclib-geodesic';
import { expect, test } from 'vitest';
import { distance, norm, subtract, type Vec3 } from '../maths/vec3.ts';
import { ecefFromGeodetic, geodeticFromEcef } from './ecef.ts';
import type { Llh } from './Llh.ts';

const dms = (deg: number, min: number, sec: number) => deg + min / 60 + sec / 3600;

// [source, tolerance = half a digit of what the source prints (GIGS states 0.01 m), llh, ecef]
const PUBLISHED: readonly (readonly [string, number, Llh, Vec3])[] = [
  [
    'IOGP GN 7-2 method 9602',
    0.001,
    [dms(2, 7, 46.38), dms(53, 48, 33.82), 73],
    [3771793.968, 140253.342, 5124304.349],
  ],
  ['IOGP GIGS 5201 at 80 N', 0.01, [150, 80, 1214.137], [-962479.5924, 555687.8517, 6260738.6526]],
  ['IOGP GIGS 5201 at 30 N', 0.01, [60, 30, 189.569], [2764210.4054, 4787752.865, 3170468.5199]],
  ['IOGP GIGS 5201 at 30 S', 0.01, [-60, -30, -571.476], [2763880.8633, -4787182.0813, -3170087.9974]],
  ['IOGP GIGS 5201 at 50 N', 0.01, [-135, 50, 0], [-2904698.5551, -2904698.5551, 4862789.0377]],
  ['GeographicLib CartConvert manual', 0.006, [44.4, 33.3, 6000], [3816209.6, 3737108.55, 3485109.57]],
];

test.each(PUBLISHED)('%s: geodetic to ECEF and back', (_source, toleranceM, llh, ecefM) => {
  expect(distance(ecefFromGeodetic(llh), ecefM)).toBeLessThan(toleranceM * Math.sqrt(3));
  const back = geodeticFromEcef(ecefM);
  // 1e-5 degrees a metre, so the tolerance in metres shows as itself times 1e-5.
  expect(Math.abs(back[0] - llh[0])).toBeLessThan(toleranceM * 6e-5);
  expect(Math.abs(back[1] - llh[1])).toBeLessThan(toleranceM * 1e-5);
  expect(Math.abs(back[2] - llh[2])).toBeLessThan(toleranceM * 2);
});

test('anywhere from 10 km below to 36,000 km above the ellipsoid a position survives the way to ECEF and back', () => {
  fc.assert(
    fc.property(
      fc.double({ min: -180, max: 180, noNaN: true }),
      fc.double({ min: -90, max: 90, noNaN: true }),
      fc.double({ min: -1e4, max: 3.6e7, noNaN: true }),
      (lonDeg, latDeg, heightM) => {
        const ecefM = ecefFromGeodetic([lonDeg, latDeg, heightM]);
        // 4e7 m has 7e-9 m between neighbouring doubles; a few roundings of that.
        expect(distance(ecefFromGeodetic(geodeticFromEcef(ecefM)), ecefM)).toBeLessThan(5e-8);
      },
    ),
    { seed: 4979, numRuns: 500 },
  );
});

test('at the poles height and latitude are the published polar radius away', () => {
  const [, latDeg, heightM] = geodeticFromEcef([0, 0, -6356752.314245179 - 12.5]);
  expect(latDeg).toBe(-90);
  expect(heightM).toBeCloseTo(12.5, 8);
});

test('the centre of the earth has no latitude', () => {
  expect(() => geodeticFromEcef([10, -20, 30])).toThrow(/centre/);
});

test('short chords agree with the geodesics of GeographicLib', () => {
  // Over 300 m the chord is shorter than the geodesic by s^3 / 24 R^2 = 3e-8 m.
  const pairs: [Llh, Llh][] = [
    [
      [13.2, 47.1, 0],
      [13.2031, 47.1012, 0],
    ],
    [
      [-70.5, -33.4, 0],
      [-70.5022, -33.3981, 0],
    ],
    [
      [25.1, 69.9, 0],
      [25.1041, 69.9017, 0],
    ],
  ];
  for (const [a, b] of pairs) {
    const s12 = geodesic.Geodesic.WGS84.Inverse(a[1], a[0], b[1], b[0]).s12 as number;
    expect(norm(subtract(ecefFromGeodetic(a), ecefFromGeodetic(b)))).toBeCloseTo(s12, 6);
  }
});
