import { DEG_PER_RAD, RAD_PER_DEG, wrapDeg360 } from '../maths/angle.ts';

export interface SunPosition {
  /** Clockwise from true north. */
  readonly azimuthDeg: number;
  /** Above the horizon, as the geometry has it, without refraction. */
  readonly elevationDeg: number;
  /** Of date, apparent. */
  readonly rightAscensionDeg: number;
  readonly declinationDeg: number;
}

/** Where the sun stands in the sky of the equator, apparent, of date. Days are counted from J2000 (2000-01-01T12:00). */
function apparentSun(daysJ2000: number): { rightAscensionDeg: number; declinationDeg: number } {
  const t = daysJ2000 / 36525;
  const meanLongitude = 280.46646 + 36000.76983 * t + 0.0003032 * t * t;
  const anomaly = (357.52911 + 35999.05029 * t - 0.0001537 * t * t) * RAD_PER_DEG;
  const centre =
    (1.914602 - 0.004817 * t - 0.000014 * t * t) * Math.sin(anomaly) +
    (0.019993 - 0.000101 * t) * Math.sin(2 * anomaly) +
    0.000289 * Math.sin(3 * anomaly);
  const node = (125.04 - 1934.136 * t) * RAD_PER_DEG;
  const longitude = (meanLongitude + centre - 0.00569 - 0.00478 * Math.sin(node)) * RAD_PER_DEG;
  const obliquity = (23.4392911 - 0.0130042 * t + 0.00256 * Math.cos(node)) * RAD_PER_DEG;
  return {
    rightAscensionDeg: wrapDeg360(
      Math.atan2(Math.cos(obliquity) * Math.sin(longitude), Math.cos(longitude)) * DEG_PER_RAD,
    ),
    declinationDeg: Math.asin(Math.sin(obliquity) * Math.sin(longitude)) * DEG_PER_RAD,
  };
}

/**
 * Where the sun stands as seen from a place.
 * @param utc  an ISO 8601 instant, e.g. 2026-05-12T06:30:00Z
 * Accuracy: 0.01 degrees from 1950 to 2050 (no nutation beyond its largest term, no parallax, UTC taken as UT1).
 * Source: Meeus, Astronomical Algorithms, 2nd ed., chapters 12, 13 and 25 (from memory).
 */
export function sunPosition(utc: string, lonDeg: number, latDeg: number): SunPosition {
  const unixMs = Date.parse(utc);
  if (Number.isNaN(unixMs)) throw new RangeError(`sunPosition: "${utc}" is no instant`);
  const daysUt = unixMs / 86_400_000 - 10957.5;
  // Terrestrial time runs ahead of UTC by about 69 s; the sun moves 0.0008 degrees meanwhile.
  const { rightAscensionDeg, declinationDeg } = apparentSun(daysUt + 69 / 86400);
  const t = daysUt / 36525;
  const siderealDeg = 280.46061837 + 360.98564736629 * daysUt + 0.000387933 * t * t;
  const hour = (siderealDeg + lonDeg - rightAscensionDeg) * RAD_PER_DEG;
  const lat = latDeg * RAD_PER_DEG;
  const dec = declinationDeg * RAD_PER_DEG;
  const east = -Math.cos(dec) * Math.sin(hour);
  const north = Math.sin(dec) * Math.cos(lat) - Math.cos(dec) * Math.sin(lat) * Math.cos(hour);
  const up = Math.sin(dec) * Math.sin(lat) + Math.cos(dec) * Math.cos(lat) * Math.cos(hour);
  return {
    azimuthDeg: wrapDeg360(Math.atan2(east, north) * DEG_PER_RAD),
    elevationDeg: Math.atan2(up, Math.hypot(east, north)) * DEG_PER_RAD,
    rightAscensionDeg,
    declinationDeg,
  };
}

/** How much the air lifts the sun, degrees. Source: Bennett, J. Navigation 35 (1982) 255 in Saemundsson's form (from memory). */
export function refractionDeg(elevationDeg: number, temperatureC: number, pressureHPa: number): number {
  if (elevationDeg < -1) return 0;
  const minutes = 1.02 / Math.tan((elevationDeg + 10.3 / (elevationDeg + 5.11)) * RAD_PER_DEG);
  return ((minutes / 60) * (pressureHPa / 1010) * 283) / (273 + temperatureC);
}
