import { RAD_PER_DEG } from '../maths/angle.ts';
import { geodeticFromEcef } from './ecef.ts';
import { localFrameAt } from './LocalFrame.ts';

/** An older datum that coordinates still come in, and where it was used. */
interface OlderDatum {
  readonly name: string;
  readonly code: string;
  /** Half axis and flattening of its ellipsoid. */
  readonly ellipsoid: readonly [aM: number, inverseFlattening: number];
  /** To WGS 84: metres, seconds of arc (position vector), parts per million. */
  readonly helmert: readonly [x: number, y: number, z: number, rx: number, ry: number, rz: number, ppm: number];
  /** South, west, north, east, degrees. */
  readonly area: readonly [number, number, number, number];
}

const INTERNATIONAL = [6378388, 297] as const;
const BESSEL = [6377397.155, 299.1528128] as const;

/** Source: EPSG operations 1133, 1173, 1314, 1777, 1267, 1618, 1305, 1230, 1864, 1510 and 1193 as PROJ 9.1.1 has them. */
const DATUMS: readonly OlderDatum[] = [
  {
    name: 'ED50',
    code: 'EPSG:4230',
    ellipsoid: INTERNATIONAL,
    helmert: [-87, -98, -121, 0, 0, 0, 0],
    area: [31.59, -9.56, 71.21, 34.88],
  },
  {
    name: 'NAD27',
    code: 'EPSG:4267',
    ellipsoid: [6378206.4, 294.9786982],
    helmert: [-8, 160, 176, 0, 0, 0, 0],
    area: [24.41, -124.79, 49.38, -66.91],
  },
  {
    name: 'OSGB36',
    code: 'EPSG:4277',
    ellipsoid: [6377563.396, 299.3249646],
    helmert: [446.448, -125.157, 542.06, 0.15, 0.247, 0.842, -20.489],
    area: [49.79, -8.82, 60.94, 1.92],
  },
  {
    name: 'DHDN',
    code: 'EPSG:4314',
    ellipsoid: BESSEL,
    helmert: [598.1, 73.7, 418.2, 0.202, 0.045, -2.455, 6.7],
    area: [47.27, 5.86, 55.09, 13.84],
  },
  {
    name: 'Pulkovo 1942',
    code: 'EPSG:4284',
    ellipsoid: [6378245, 298.3],
    helmert: [23.92, -141.27, -80.9, 0, 0.35, 0.82, -0.12],
    area: [41.19, 19.58, 81.91, 180],
  },
  {
    name: 'MGI',
    code: 'EPSG:4312',
    ellipsoid: BESSEL,
    helmert: [577.326, 90.129, 463.919, 5.137, 1.474, 5.297, 2.4232],
    area: [46.4, 9.53, 49.02, 17.17],
  },
  {
    name: 'Tokyo',
    code: 'EPSG:4301',
    ellipsoid: BESSEL,
    helmert: [-148, 507, 685, 0, 0, 0, 0],
    area: [20.37, 122.83, 45.54, 145.87],
  },
  {
    name: 'SAD69',
    code: 'EPSG:4618',
    ellipsoid: [6378160, 298.25],
    helmert: [-57, 1, -41, 0, 0, 0, 0],
    area: [-45, -81.41, 12.52, -34.74],
  },
  {
    name: 'CH1903',
    code: 'EPSG:4149',
    ellipsoid: BESSEL,
    helmert: [674.374, 15.056, 405.346, 0, 0, 0, 0],
    area: [45.82, 5.96, 47.81, 10.49],
  },
  {
    name: 'NTF',
    code: 'EPSG:4275',
    ellipsoid: [6378249.2, 293.4660213],
    helmert: [-168, -60, 320, 0, 0, 0, 0],
    area: [41.31, -4.87, 51.14, 9.63],
  },
];

export interface DatumShift {
  readonly name: string;
  readonly code: string;
  /** What coordinates of that datum lack, if they are read as WGS 84: where they should be less where they are put, metres. */
  readonly eastM: number;
  readonly northM: number;
}

/**
 * The older datums of a place and how far off they put it when read as WGS 84. Heights are left alone, as they hardly ever are
 * ellipsoidal in such a datum. Accuracy: 1 to 20 m, that of one set of parameters for a whole country; enough to name a slip.
 */
export function datumShiftsAt(lonDeg: number, latDeg: number): DatumShift[] {
  const here = localFrameAt([lonDeg, latDeg, 0]);
  return DATUMS.filter(
    ({ area: [south, west, north, east] }) => latDeg >= south && latDeg <= north && lonDeg >= west && lonDeg <= east,
  ).map(({ name, code, ellipsoid: [a, inverseFlattening], helmert: [tx, ty, tz, rx, ry, rz, ppm] }) => {
    const e2 = (2 - 1 / inverseFlattening) / inverseFlattening;
    const [lat, lon] = [latDeg * RAD_PER_DEG, lonDeg * RAD_PER_DEG];
    const across = a / Math.sqrt(1 - e2 * Math.sin(lat) ** 2);
    const [x, y, z] = [
      across * Math.cos(lat) * Math.cos(lon),
      across * Math.cos(lat) * Math.sin(lon),
      across * (1 - e2) * Math.sin(lat),
    ];
    const k = 1 + ppm * 1e-6;
    const [p, q, r] = [rx, ry, rz].map((s) => (s / 3600) * RAD_PER_DEG);
    const [lonThere, latThere] = geodeticFromEcef([
      tx + k * (x - r * y + q * z),
      ty + k * (r * x + y - p * z),
      tz + k * (-q * x + p * y + z),
    ]);
    const [eastM, northM] = here.enuFromLlh([lonThere, latThere, 0]);
    return { name, code, eastM, northM };
  });
}
