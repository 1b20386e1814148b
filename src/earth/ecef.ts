import { DEG_PER_RAD, RAD_PER_DEG } from '../maths/angle.ts';
import type { Mat3 } from '../maths/mat3.ts';
import type { Vec3 } from '../maths/vec3.ts';
import { ECCENTRICITY2, FLATTENING, SECOND_ECCENTRICITY2, SEMI_MAJOR_AXIS_M, SEMI_MINOR_AXIS_M } from './ellipsoid.ts';
import type { Llh } from './Llh.ts';

/**
 * Earth-centred, earth-fixed coordinates of a geodetic position, metres.
 * Accuracy: rounding only (1e-9 m). Source: IOGP Guidance Note 7-2, EPSG method 9602.
 */
export function ecefFromGeodetic([lonDeg, latDeg, heightM]: Llh): Vec3 {
  const lat = latDeg * RAD_PER_DEG;
  const lon = lonDeg * RAD_PER_DEG;
  const sinLat = Math.sin(lat);
  const cosLat = Math.cos(lat);
  const primeVerticalM = SEMI_MAJOR_AXIS_M / Math.sqrt(1 - ECCENTRICITY2 * sinLat * sinLat);
  const fromAxisM = (primeVerticalM + heightM) * cosLat;
  return [
    fromAxisM * Math.cos(lon),
    fromAxisM * Math.sin(lon),
    (primeVerticalM * (1 - ECCENTRICITY2) + heightM) * sinLat,
  ];
}

/**
 * The inverse of ecefFromGeodetic; longitude in (-180, 180].
 * Bowring's iteration on the reduced latitude, run until it stands still. Accuracy: 1e-8 m from the deepest sea to
 * geostationary orbit. Throws within 100 km of the earth's centre, where the vertical is not defined.
 * Source: Bowring, Survey Review 23 (1976) 323 (from memory).
 */
export function geodeticFromEcef([x, y, z]: Vec3): Llh {
  const fromAxisM = Math.hypot(x, y);
  if (!(Math.hypot(fromAxisM, z) > 1e5)) throw new RangeError('geodeticFromEcef: too near to the centre of the earth');
  let reduced = Math.atan2(z, (1 - FLATTENING) * fromAxisM);
  let lat = 0;
  for (let round = 0; round < 10; round++) {
    const sin = Math.sin(reduced);
    const cos = Math.cos(reduced);
    lat = Math.atan2(
      z + SECOND_ECCENTRICITY2 * SEMI_MINOR_AXIS_M * sin * sin * sin,
      fromAxisM - ECCENTRICITY2 * SEMI_MAJOR_AXIS_M * cos * cos * cos,
    );
    const next = Math.atan2((1 - FLATTENING) * Math.sin(lat), Math.cos(lat));
    const change = Math.abs(next - reduced);
    reduced = next;
    if (change < 1e-16) break;
  }
  const sinLat = Math.sin(lat);
  // Well conditioned at the poles and at the equator alike, unlike fromAxis / cos(lat) - N.
  const heightM =
    fromAxisM * Math.cos(lat) + z * sinLat - SEMI_MAJOR_AXIS_M * Math.sqrt(1 - ECCENTRICITY2 * sinLat * sinLat);
  return [Math.atan2(y, x) * DEG_PER_RAD, lat * DEG_PER_RAD, heightM];
}

/** Rotation from north-east-down axes at a place to earth-centred axes. Source: EPSG method 9836, with the axes renamed. */
export function ecefFromNedAt([lonDeg, latDeg]: Llh): Mat3 {
  const sinLat = Math.sin(latDeg * RAD_PER_DEG);
  const cosLat = Math.cos(latDeg * RAD_PER_DEG);
  const sinLon = Math.sin(lonDeg * RAD_PER_DEG);
  const cosLon = Math.cos(lonDeg * RAD_PER_DEG);
  return [-sinLat * cosLon, -sinLon, -cosLat * cosLon, -sinLat * sinLon, cosLon, -cosLat * sinLon, cosLat, 0, -sinLat];
}
