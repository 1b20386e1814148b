import { expect, test } from 'vitest';
import { refractionDeg, sunPosition } from './sunPosition.ts';

test('the worked example of the NREL solar position algorithm is met within 0.01 degrees', () => {
  // Reda & Andreas, Solar Energy 76 (2004) 577 (from memory): 2003-10-17, 12:30:30 at UTC-7, 39.742476 N, 105.1786 W,
  // 820 hPa, 11 °C: zenith 50.11162 (with refraction and parallax), azimuth 194.34024.
  const sun = sunPosition('2003-10-17T19:30:30Z', -105.1786, 39.742476);
  const zenithDeg = 90 - sun.elevationDeg - refractionDeg(sun.elevationDeg, 11, 820);
  expect(Math.abs(zenithDeg - 50.11162)).toBeLessThan(0.01);
  expect(Math.abs(sun.azimuthDeg - 194.34024)).toBeLessThan(0.01);
});

test("Meeus' example 25.a: the apparent sun of 1992 October 13, 0h", () => {
  // Meeus, Astronomical Algorithms (from memory): right ascension 198.38083, declination -7.78507, at 0h dynamical time,
  // which the function reaches 69 s earlier.
  const sun = sunPosition('1992-10-12T23:58:51Z', 0, 0);
  expect(Math.abs(sun.rightAscensionDeg - 198.38083)).toBeLessThan(2e-4);
  expect(Math.abs(sun.declinationDeg - -7.78507)).toBeLessThan(2e-4);
});

test('south of the tropics the noon sun stands in the north', () => {
  const sun = sunPosition('2026-12-21T16:42:00Z', -70.5, -33.4);
  expect(Math.min(sun.azimuthDeg, 360 - sun.azimuthDeg)).toBeLessThan(3);
  // 90 - (33.4 - 23.44) degrees at the solstice.
  expect(Math.abs(sun.elevationDeg - 80.04)).toBeLessThan(0.1);
});

test('what is no instant is refused', () => {
  expect(() => sunPosition('yesterday', 0, 0)).toThrow('"yesterday" is no instant');
});
