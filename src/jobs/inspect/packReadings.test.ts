import { expect, test } from 'vitest';
import { packReadings, unpackReadings } from './packReadings.ts';

test('readings come out of their numbers as they went in, frames without events among them', () => {
  const event = (k: number) => ({
    xPx: 10.25 + k,
    yPx: 1 / 3 + k,
    charge: 120.5 * k,
    sigmaPx: 0.07 + k,
    flags: k,
    lonePixel: k - 1,
    extentPx: k + 3,
    radiusPx: 1.3 * k,
  });
  const glow = { leftPx: 3, topPx: 5, columns: 3, rows: 2, lightDn: Float64Array.of(1, -0.5, 1 / 3, 4, 5, 6.25) };
  const readings = [
    { levelDn: -0.125, noiseScale: 1.01, found: [event(1), event(2), event(3)], glows: [], standsAlone: true },
    { levelDn: 0.5, noiseScale: 0.98, found: [], glows: [], standsAlone: true },
    { levelDn: 2.25, noiseScale: 1.5, found: [event(7)], glows: [glow, { ...glow, leftPx: 9 }], standsAlone: false },
  ];
  expect(unpackReadings(packReadings(readings))).toEqual(readings);
  expect(unpackReadings(packReadings([]))).toEqual([]);
});
