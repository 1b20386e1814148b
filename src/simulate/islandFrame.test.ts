import geodesic from 'geographiclib-geodesic';
import { expect, test } from 'vitest';
import { multiplyVec } from '../maths/mat3.ts';
import { islandFrame } from './islandFrame.ts';

const frame = islandFrame([-31.8, 44.3, 70]);

test('east and north of the frame are those of the geodesic on the ellipsoid', () => {
  // GeographicLib: length and azimuth of the geodesic to a point 300 m east and 400 m north. The chord plane of a frame 70 m up
  // differs from the ellipsoid by 70 m / 6.4e6 m of the length, 5.5 mm, and by less for the drop below the plane.
  const [lonDeg, latDeg] = frame.llhFromEnu([300, 400, 0]);
  const line = geodesic.Geodesic.WGS84.Inverse(44.3, -31.8, latDeg, lonDeg);
  expect(Math.abs(line.s12! - 500)).toBeLessThan(0.007);
  expect(Math.abs(line.azi1! - (Math.atan2(300, 400) * 180) / Math.PI)).toBeLessThan(1e-4);
});

test('a round trip is exact to a tenth of a millimetre a kilometre off', () => {
  const back = frame.enuFromLlh(frame.llhFromEnu([812, -640, 55]));
  [812, -640, 55].forEach((x, i) => {
    expect(back[i]).toBeCloseTo(x, 4);
  });
});

test('down at a place is where only the height changes', () => {
  const at = [700, -300, 20] as const;
  const before = frame.llhFromEnu(at);
  const down = multiplyVec(frame.enuFromNedAt(at), [0, 0, 1]);
  const after = frame.llhFromEnu([at[0] + 10 * down[0], at[1] + 10 * down[1], at[2] + 10 * down[2]]);
  expect(before[2] - after[2]).toBeCloseTo(10, 6);
  expect(after[0]).toBeCloseTo(before[0], 10);
  expect(after[1]).toBeCloseTo(before[1], 10);
});
