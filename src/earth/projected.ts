import proj4 from 'proj4';
import { InputError } from '../input/InputError.ts';

export interface ProjectedSystem {
  readonly code: string;
  readonly name: string;
  readonly definition: string;
  /** In which the numbers come out. */
  readonly axes: 'easting, northing';
  /** [west, south, east, north] degrees, where it is meant to be used. */
  readonly area: readonly [number, number, number, number];
}

/** What stands between WGS 84 and the system's datum; said wherever co-ordinates are handed out. */
export const ETRS89_NOTE = 'ETRS89 taken equal to WGS 84 (they have drifted apart by up to about a metre since 1989)';

const utm = (zone: number): [number, number] => [zone * 6 - 186, zone * 6 - 180];

function systems(): ReadonlyMap<string, ProjectedSystem> {
  const list: ProjectedSystem[] = [];
  const add = (
    epsg: number,
    name: string,
    definition: string,
    area: readonly [number, number, number, number],
  ): unknown =>
    list.push({
      code: `EPSG:${epsg}`,
      name,
      definition: `${definition} +units=m +no_defs`,
      axes: 'easting, northing',
      area,
    });
  for (let zone = 1; zone <= 60; zone++) {
    const [west, east] = utm(zone);
    add(32600 + zone, `WGS 84 / UTM zone ${zone}N`, `+proj=utm +zone=${zone} +datum=WGS84`, [west, 0, east, 84]);
    add(32700 + zone, `WGS 84 / UTM zone ${zone}S`, `+proj=utm +zone=${zone} +south +datum=WGS84`, [
      west,
      -80,
      east,
      0,
    ]);
  }
  const etrs = '+ellps=GRS80 +towgs84=0,0,0,0,0,0,0';
  for (let zone = 28; zone <= 38; zone++) {
    const [west, east] = utm(zone);
    add(25800 + zone, `ETRS89 / UTM zone ${zone}N`, `+proj=utm +zone=${zone} ${etrs}`, [west, 30, east, 84]);
  }
  const lambert = '+proj=lcc +lat_0=46.5 +lon_0=3 +lat_1=49 +lat_2=44 +x_0=700000 +y_0=6600000';
  add(2154, 'RGF93 v1 / Lambert-93', `${lambert} ${etrs}`, [-9.86, 41.15, 10.38, 51.56]);
  const laea = '+proj=laea +lat_0=52 +lon_0=10 +x_0=4321000 +y_0=3210000';
  add(3035, 'ETRS89-extended / LAEA Europe', `${laea} ${etrs}`, [-35.58, 24.6, 44.83, 84.73]);
  return new Map(list.map((system) => [system.code, system]));
}

/** The projected systems that are offered: those whose definition needs no grid file and was checked. */
export const PROJECTED_SYSTEMS = systems();

/**
 * Easting and northing of a WGS 84 position, metres.
 * Accuracy: 1 mm against PROJ 9.1.1 in the zone and one zone beside it; datums of ETRS89 kind are taken equal to WGS 84
 * (see ETRS89_NOTE).
 * @param code e.g. "EPSG:25833"
 * @throws InputError for a code that is not in PROJECTED_SYSTEMS
 */
export function projectedFromLlh(code: string, lonDeg: number, latDeg: number): readonly [number, number] {
  const [eastingM, northingM] = converterOf(code).forward([lonDeg, latDeg]);
  return [eastingM, northingM];
}

const converters = new Map<string, proj4.Converter>();

/** Definitions are parsed once: point clouds and trajectories ask millions of times. */
function converterOf(code: string): proj4.Converter {
  const known = converters.get(code);
  if (known) return known;
  const made = proj4('WGS84', projectedSystem(code).definition);
  converters.set(code, made);
  return made;
}

/** The inverse of projectedFromLlh. */
export function llhFromProjected(code: string, eastingM: number, northingM: number): readonly [number, number] {
  const [lonDeg, latDeg] = converterOf(code).inverse([eastingM, northingM]);
  return [lonDeg, latDeg];
}

export function projectedSystem(code: string): ProjectedSystem {
  const system = PROJECTED_SYSTEMS.get(code);
  if (system) return system;
  throw new InputError({
    file: '(output coordinate system)',
    found: `"${code}"`,
    expected: 'EPSG:32601 to 32660, 32701 to 32760, 25828 to 25838, 2154 or 3035',
    todo: 'Choose one of these, or transform the GeoJSON with a tool that carries the grids your system needs.',
  });
}

/** The WGS 84 UTM zone that a place lies in, exceptions of Norway and Svalbard left aside. */
export function utmCodeAt(lonDeg: number, latDeg: number): string {
  const zone = Math.min(60, Math.max(1, Math.floor((lonDeg + 180) / 6) + 1));
  return `EPSG:${(latDeg < 0 ? 32700 : 32600) + zone}`;
}
