import { geodeticFromEcef } from '../../earth/ecef.ts';
import { egm96UndulationM } from '../../earth/geoid.ts';
import type { Llh } from '../../earth/Llh.ts';
import { llhFromProjected, projectedSystem } from '../../earth/projected.ts';
import { InputError } from '../../input/InputError.ts';
import { degreesIn, numberIn } from './angleText.ts';
import type { PositionMapping } from './TrajectoryMapping.ts';
import type { Columns, TextRow } from './textTable.ts';

/** Metres. Source: international foot and US survey foot by definition. */
export const METRES = { m: 1, ft: 0.3048, 'us-ft': 1200 / 3937 } as const;

export interface PositionReader {
  read(row: TextRow): Llh;
  /** What was taken for granted, a sentence each. */
  readonly assumed: readonly string[];
}

type HeightMapping = Extract<PositionMapping, { form: 'geographic' }>['height'];

export const EGM96_SAID =
  'Heights above the sea were taken as EGM96 heights and its undulation added; levelled heights differ from those by up to a metre.';
export const ETRS89_SAID =
  'ETRS89 is taken equal to WGS 84 (they have drifted apart by up to about a metre since 1989).';

/**
 * Positions of a text table as WGS 84 with ellipsoidal heights.
 * @throws InputError for a system that is not offered, and per row for cells that are no such number
 */
export function positionReader(mapping: PositionMapping, columns: Columns, file: string): PositionReader {
  const refuse = (row: TextRow, field: string, cell: number, expected: string): never => {
    const found = row.cells[cell] === '' ? 'an empty cell' : `"${row.cells[cell]}"`;
    throw new InputError({
      file,
      row: row.row,
      field,
      found,
      expected,
      todo: 'Correct the unit in the mapping, or leave rows without a solution out.',
    });
  };
  const number = (row: TextRow, cell: number, field: string): number => {
    const value = numberIn(row.cells[cell]);
    return Number.isFinite(value) ? value : refuse(row, field, cell, 'a number');
  };
  const assumed: string[] = [];
  if ('datum' in mapping && mapping.datum === 'ETRS89') assumed.push(ETRS89_SAID);
  if (mapping.form === 'geocentric') {
    const fields = [mapping.x, mapping.y, mapping.z];
    const cells = fields.map((name, i) => columns.at(name, `position.${'xyz'[i]}`));
    return {
      assumed,
      read: (row) => {
        const [x, y, z] = cells.map((cell, i) => number(row, cell, fields[i]));
        // Within 100 km of the surface: anything else is another unit or another frame.
        if (Math.abs(Math.hypot(x, y, z) - 6.37e6) > 1.2e5)
          refuse(row, mapping.x, cells[0], 'earth-centred metres, some 6 370 000 m from the origin');
        return geodeticFromEcef([x, y, z]);
      },
    };
  }
  const heightOf = heightReader(mapping.height, columns, number, assumed, file);
  if (mapping.form === 'projected') {
    projectedSystem(mapping.system);
    if (/^EPSG:(258|2154|3035)/.test(mapping.system)) assumed.push(ETRS89_SAID);
    const e = columns.at(mapping.easting, 'position.easting');
    const n = columns.at(mapping.northing, 'position.northing');
    const k = METRES[mapping.unit];
    return {
      assumed,
      read: (row) => {
        const [lon, lat] = llhFromProjected(
          mapping.system,
          k * number(row, e, mapping.easting),
          k * number(row, n, mapping.northing),
        );
        if (!Number.isFinite(lon) || !Number.isFinite(lat))
          refuse(row, `${mapping.easting}, ${mapping.northing}`, e, `an easting and a northing of ${mapping.system}`);
        return [lon, lat, heightOf(row, lon, lat)];
      },
    };
  }
  const latCell = columns.at(mapping.latitude, 'position.latitude');
  const lonCell = columns.at(mapping.longitude, 'position.longitude');
  return {
    assumed,
    read: (row) => {
      const lat = degreesIn(row.cells[latCell], mapping.unit);
      const lon = degreesIn(row.cells[lonCell], mapping.unit);
      if (!(Math.abs(lat) <= 90))
        refuse(row, mapping.latitude, latCell, `a latitude (${mapping.unit}), -90 to 90 degrees`);
      if (!(Math.abs(lon) <= 360))
        refuse(row, mapping.longitude, lonCell, `a longitude (${mapping.unit}), -180 to 180 degrees`);
      const wrapped = lon > 180 ? lon - 360 : lon < -180 ? lon + 360 : lon;
      return [wrapped, lat, heightOf(row, wrapped, lat)];
    },
  };
}

function heightReader(
  mapping: HeightMapping,
  columns: Columns,
  number: (row: TextRow, cell: number, field: string) => number,
  assumed: string[],
  file: string,
): (row: TextRow, lonDeg: number, latDeg: number) => number {
  const cell = columns.at(mapping.column, 'position.height.column');
  const k = METRES[mapping.unit];
  if ((mapping.above === 'separation column') !== (mapping.separation !== undefined))
    throw new InputError({
      file: `mapping of ${file}`,
      field: 'position.height',
      found: `above "${mapping.above}" ${mapping.separation === undefined ? 'without' : 'with'} the column of a separation`,
      expected: 'a separation column exactly where heights stand above "separation column"',
      todo: 'Name the column that holds the geoid above the ellipsoid, or say what the heights stand above.',
    });
  if (mapping.above === 'EGM96') assumed.push(EGM96_SAID);
  const separation =
    mapping.separation === undefined ? -1 : columns.at(mapping.separation, 'position.height.separation');
  return (row, lonDeg, latDeg) => {
    const height = k * number(row, cell, mapping.column);
    if (mapping.above === 'EGM96') return height + egm96UndulationM(lonDeg, latDeg);
    return separation < 0 ? height : height + k * number(row, separation, mapping.separation as string);
  };
}
