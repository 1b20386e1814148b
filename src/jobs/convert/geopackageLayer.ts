import Database from 'better-sqlite3';
import { InputError } from '../../input/InputError.ts';
import type { TableRow } from '../../line/lineFileFromTables.ts';

export interface GeoPackageLayer {
  readonly rows: readonly TableRow[];
  /** EPSG code of its system; null where it is another authority's. */
  readonly epsg: number | null;
}

/**
 * Reads a feature layer of a GeoPackage: attributes as they are, points and lines of two or three dimensions (a multi-part geometry
 * of one part as that part). Longitude or easting first, as the standard has it whatever the system's own order.
 * @throws InputError for a file that is no GeoPackage, and a layer that it lacks
 * Source: OGC 12-128r17 (GeoPackage 1.3), 2.1; WKB by OGC 06-103r4.
 */
export function geopackageLayer(file: string, layer: string): GeoPackageLayer {
  const refuse = (found: string, expected: string): never => {
    throw new InputError({
      file,
      field: layer,
      found,
      expected,
      todo: 'Correct the name of the layer in the mapping, or export it again.',
    });
  };
  let db: Database.Database;
  try {
    db = new Database(file, { readonly: true, fileMustExist: true });
  } catch (error) {
    return refuse((error as Error).message, 'a readable GeoPackage');
  }
  try {
    const layers = db
      .prepare('SELECT table_name AS name, column_name AS field, srs_id AS srs FROM gpkg_geometry_columns')
      .all() as { name: string; field: string; srs: number }[];
    const own = layers.find((l) => l.name === layer);
    if (!own) return refuse(`no such layer; there are ${layers.map((l) => l.name).join(', ')}`, 'a feature layer');
    const system = db
      .prepare(
        'SELECT organization AS who, organization_coordsys_id AS code FROM gpkg_spatial_ref_sys WHERE srs_id = ?',
      )
      .get(own.srs) as { who: string; code: number } | undefined;
    const rows = db.prepare(`SELECT * FROM "${layer.replaceAll('"', '""')}"`).all() as Record<string, unknown>[];
    return {
      epsg: system && system.who.toUpperCase() === 'EPSG' ? system.code : null,
      rows: rows.map((found, i) => {
        const { [own.field]: geometry, ...cells } = found;
        return {
          cells: cells as TableRow['cells'],
          positions: Buffer.isBuffer(geometry) ? positionsOf(geometry, refuse) : [],
          row: Number(found.fid ?? found.id ?? i + 1) || i + 1,
        };
      }),
    };
  } catch (error) {
    if (error instanceof InputError) throw error;
    return refuse((error as Error).message, 'a GeoPackage');
  } finally {
    db.close();
  }
}

/** East, north, height (NaN in two dimensions) of every position. */
function positionsOf(bytes: Buffer, refuse: (found: string, expected: string) => never): [number, number, number][] {
  if (bytes.toString('latin1', 0, 2) !== 'GP')
    refuse('a geometry without the header of GeoPackage', 'GeoPackage geometries');
  const envelope = [0, 32, 48, 48, 64][(bytes[3] >> 1) & 7] ?? refuse('an unknown envelope', 'GeoPackage geometries');
  if ((bytes[3] & 16) !== 0) return [];
  let at = 8 + envelope;
  const geometry = (): [number, number, number][] => {
    const little = bytes[at] === 1;
    const uint = (i: number): number => (little ? bytes.readUInt32LE(i) : bytes.readUInt32BE(i));
    const double = (i: number): number => (little ? bytes.readDoubleLE(i) : bytes.readDoubleBE(i));
    const code = uint(at + 1) & 0xffff;
    const extended = uint(at + 1) >>> 28;
    const kind = code % 1000;
    const hasZ = [1, 3].includes(Math.floor(code / 1000)) || (extended & 8) !== 0;
    const hasM = [2, 3].includes(Math.floor(code / 1000)) || (extended & 4) !== 0;
    const width = 8 * (2 + Number(hasZ) + Number(hasM));
    at += 5;
    if (kind === 4 || kind === 5) {
      const parts = uint(at);
      at += 4;
      if (parts !== 1) refuse(`a geometry of ${parts} parts`, 'points and lines of one part');
      return geometry();
    }
    if (kind !== 1 && kind !== 2) refuse(`a geometry of type ${code}`, 'points and lines');
    const count = kind === 1 ? 1 : uint(at);
    at += kind === 1 ? 0 : 4;
    return Array.from({ length: count }, (_, i) => {
      const from = at + i * width;
      return [double(from), double(from + 8), hasZ ? double(from + 16) : Number.NaN];
    });
  };
  return geometry();
}
