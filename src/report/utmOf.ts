import proj4 from 'proj4';
import type { Llh } from '../earth/Llh.ts';

export interface Utm {
  readonly epsg: number;
  readonly zone: string;
  readonly eastM: number;
  readonly northM: number;
}

/**
 * WGS 84 / UTM in the zone of the longitude (EPSG:32601 to 32660 north, 32701 to 32760 south).
 * @returns null beyond 84 degrees north or 80 degrees south, where UTM is not defined
 * Accuracy: PROJ's transverse Mercator as in proj4js, 0.1 mm.
 */
export function utmOf([lonDeg, latDeg]: Llh): Utm | null {
  if (latDeg > 84 || latDeg < -80) return null;
  const zone = (Math.floor((lonDeg + 180) / 6) % 60) + 1;
  const south = latDeg < 0;
  const definition = `+proj=utm +zone=${zone}${south ? ' +south' : ''} +datum=WGS84 +units=m +no_defs`;
  const [eastM, northM] = proj4('EPSG:4326', definition, [lonDeg, latDeg]) as [number, number];
  return { epsg: (south ? 32700 : 32600) + zone, zone: `${zone}${south ? 'S' : 'N'}`, eastM, northM };
}
