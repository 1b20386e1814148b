import { expect, test } from 'vitest';
import { llhFromProjected, PROJECTED_SYSTEMS, projectedFromLlh, utmCodeAt } from './projected.ts';

const gap = (a: readonly [number, number], b: readonly [number, number]) => Math.hypot(a[0] - b[0], a[1] - b[1]);

// IOGP GIGS 5101 (zone 31; tolerance there 0.03 m). cs2cs of PROJ 9.1.1 for the last five.
test.each<[string, number, number, readonly [number, number], number]>([
  ['EPSG:32631', -2, 60, [221288.77, 6661953.041], 0.002],
  ['EPSG:32631', 3, 60, [500000, 6651411.19], 0.002],
  ['EPSG:32631', -2, 80, [403186.945, 8885748.708], 0.002],
  ['EPSG:32631', -5, 60, [54506.435, 6678411.623], 0.002],
  ['EPSG:25832', 9.4, 47.1, [530353.427, 5216354.4609], 0.001],
  ['EPSG:25833', 13.4, 47.1, [378587.3561, 5217518.8374], 0.001],
  ['EPSG:2154', 2.4, 45.5, [653142.7676, 6489126.26], 0.001],
  ['EPSG:3035', 24.5, 60.25, [5119600.0922, 4209837.3111], 0.001],
  ['EPSG:32719', -70.5, -33.4, [360505.6199, 6303362.2881], 0.001],
])('%s of %d E, %d N', (code, lon, lat, expected, toleranceM) => {
  expect(gap(projectedFromLlh(code, lon, lat), expected)).toBeLessThan(toleranceM);
});

test('in the middle of each area a position survives the way to the projected system and back', () => {
  expect(PROJECTED_SYSTEMS.size).toBe(60 + 60 + 11 + 2);
  for (const { code, area } of PROJECTED_SYSTEMS.values()) {
    const lon = (area[0] + area[2]) / 2 + 0.37;
    const lat = (area[1] + area[3]) / 2;
    // 5e-9 degrees is half the millimetre claimed.
    expect(gap(llhFromProjected(code, ...projectedFromLlh(code, lon, lat)), [lon, lat])).toBeLessThan(5e-9);
  }
});

test('a place has its UTM zone, south of the equator another one', () => {
  expect(utmCodeAt(13.7, 47.3)).toBe('EPSG:32633');
  expect(utmCodeAt(-70.5, -33.4)).toBe('EPSG:32719');
  expect(utmCodeAt(180, 1)).toBe('EPSG:32660');
});

test('a system that is not offered is refused with what is', () => {
  expect(() => projectedFromLlh('EPSG:31467', 9, 48)).toThrow('found "EPSG:31467", expected EPSG:32601 to 32660');
});
