import proj4 from 'proj4';
import { type Mat3, multiply, multiplyVec, transpose } from '../maths/mat3.ts';
import { subtract, type Vec3 } from '../maths/vec3.ts';

/** Longitude and latitude in degrees, ellipsoidal height in metres, WGS 84: the order of line.json. */
export type Llh = readonly [lonDeg: number, latDeg: number, heightM: number];

/** East-north-up at one point, exact (through geocentric coordinates), for a world that is a few kilometres wide. */
export interface IslandFrame {
  readonly origin: Llh;
  llhFromEnu(pointEnuM: Vec3): Llh;
  enuFromLlh(llh: Llh): Vec3;
  /** Axes north, east and down *at the given point*, as columns in east-north-up of the origin. */
  enuFromNedAt(pointEnuM: Vec3): Mat3;
}

const geocentric = proj4('+proj=longlat +datum=WGS84 +no_defs', '+proj=geocent +datum=WGS84 +units=m +no_defs');

/** Columns: east, north, up at that longitude and latitude, in geocentric axes. */
function ecefFromEnuAxes(lonDeg: number, latDeg: number): Mat3 {
  const lon = (lonDeg * Math.PI) / 180;
  const lat = (latDeg * Math.PI) / 180;
  const [sl, cl, sp, cp] = [Math.sin(lon), Math.cos(lon), Math.sin(lat), Math.cos(lat)];
  return [-sl, -sp * cl, cp * cl, cl, -sp * sl, cp * sl, 0, cp, sp];
}

const ENU_FROM_NED: Mat3 = [0, 1, 0, 1, 0, 0, 0, 0, -1];

export function islandFrame(origin: Llh): IslandFrame {
  const originEcefM = geocentric.forward([...origin]) as unknown as Vec3;
  const ecefFromEnu = ecefFromEnuAxes(origin[0], origin[1]);
  const enuFromEcef = transpose(ecefFromEnu);
  const llhFromEnu = (p: Vec3): Llh => {
    const d = multiplyVec(ecefFromEnu, p);
    const ecefM = [originEcefM[0] + d[0], originEcefM[1] + d[1], originEcefM[2] + d[2]];
    return geocentric.inverse(ecefM) as unknown as Llh;
  };
  return {
    origin,
    llhFromEnu,
    enuFromLlh: (llh) =>
      multiplyVec(enuFromEcef, subtract(geocentric.forward([...llh]) as unknown as Vec3, originEcefM)),
    enuFromNedAt: (p) => {
      const [lonDeg, latDeg] = llhFromEnu(p);
      return multiply(multiply(enuFromEcef, ecefFromEnuAxes(lonDeg, latDeg)), ENU_FROM_NED);
    },
  };
}
