import type { z } from 'zod';
import { egm96UndulationM } from '../earth/geoid.ts';
import { llhFromProjected } from '../earth/projected.ts';
import { InputError } from '../input/InputError.ts';
import { componentOfFile, conductorOfFile, type LineFile, structureOfFile } from './lineFile.ts';
import type { FieldSource, LineMapping, LineTableName, PlaceSource } from './lineMapping.ts';

/** One row of a table: its cells by column, its geometry where it has one, and what names it in messages. */
export interface TableRow {
  readonly cells: Readonly<Record<string, string | number | null>>;
  /** East, north and height (NaN without) of each position. */
  readonly positions: readonly (readonly [number, number, number])[];
  readonly row: number;
}

export type LineTables = Readonly<Partial<Record<LineTableName, readonly TableRow[]>>>;

/** A row that is not in the line, and why. */
export interface LeftOut {
  readonly table: LineTableName;
  readonly row: number;
  readonly because: string;
}

export interface LineFromTables {
  readonly line: LineFile;
  readonly leftOut: readonly LeftOut[];
}

const METRES = { m: 1, ft: 0.3048, 'us-ft': 1200 / 3937 } as const;
const BUNDLE = ['bundleCount', 'bundleSpacingM', 'bundleRadiusM'];

/**
 * Puts the rows of an owner's tables together as a line. A row that lacks a needed value, has a text that the mapping does not
 * list, or breaks the schema of line.json is left out and told; nothing is filled in.
 * @throws InputError where a column of the mapping is in no row, and where no structure is left
 */
export function lineFileFromTables(mapping: LineMapping, tables: LineTables, file: string): LineFromTables {
  const leftOut: LeftOut[] = [];
  const llhOf = (at: readonly [number, number, number]): [number, number, number] => toWgs84(mapping, at);
  const each = <T>(
    name: LineTableName,
    make: (
      row: TableRow,
      values: Record<string, unknown>,
      place: (source: PlaceSource) => [number, number, number][],
    ) => T | string,
  ): T[] => {
    const how = mapping[name];
    const rows = tables[name] ?? [];
    if (!how || rows.length === 0) return [];
    checkColumns(how.fields, rows, `${file}, ${name}`);
    return rows.flatMap((row) => {
      const out = (because: string): T[] => {
        leftOut.push({ table: name, row: row.row, because });
        return [];
      };
      const values: Record<string, unknown> = {};
      for (const [key, source] of Object.entries(how.fields)) {
        const value = cellValue(source, row);
        if (typeof value === 'object' && value !== null) return out(value.because);
        if (value !== null) values[key] = value;
      }
      try {
        const made = make(row, values, (source) => placesOf(source, row).map(llhOf));
        return typeof made === 'string' ? out(made) : [made];
      } catch (error) {
        if (error instanceof InputError)
          return out(`${error.fault.field}: ${error.fault.found}, expected ${error.fault.expected}`);
        throw error;
      }
    });
  };
  const structures = each('structures', (_, values, place) => {
    const [positionLlh] = place((mapping.structures as { position: PlaceSource }).position);
    return read(structureOfFile, { ...values, positionLlh });
  });
  if (structures.length === 0)
    throw new InputError({
      file,
      field: 'structures',
      found:
        leftOut.length > 0 ? `no structure that can be used (row ${leftOut[0].row}: ${leftOut[0].because})` : 'no row',
      expected: 'at least one structure with id, kind, heightM, sigmaM and a place',
      todo: 'Correct the mapping.',
    });
  const components = each('components', (_, values, place) => {
    const how = mapping.components as NonNullable<LineMapping['components']>;
    const [startLlh] = place(how.start);
    const [endLlh] = how.end ? place(how.end) : [startLlh];
    return read(componentOfFile, { circuit: '', phase: '', ...values, startLlh, endLlh });
  });
  const points = new Map<string, [number, number, number][]>();
  each('wirePoints', (_, values, place) => {
    const id = String(values.conductorId ?? '');
    if (id === '') return 'no conductorId';
    points.set(id, [...(points.get(id) ?? []), ...place((mapping.wirePoints as { position: PlaceSource }).position)]);
    return true;
  });
  const conductors = each('conductors', (_, values, place) => {
    const how = mapping.conductors as NonNullable<LineMapping['conductors']>;
    const [startLlh] = place(how.start);
    const ends = place(how.end);
    const between = [...(how.between ? place(how.between) : []), ...(points.get(String(values.id)) ?? [])];
    const given = Object.fromEntries(Object.entries(values).filter(([key]) => !BUNDLE.includes(key)));
    const bundle = {
      count: Number(values.bundleCount ?? 1),
      spacingM: Number(values.bundleSpacingM ?? 0),
      radiusM: Number(values.bundleRadiusM ?? Number.NaN),
    };
    const hangs = ['sagM', 'parameterM', 'horizontalTensionN'].some((key) => key in given);
    return read(conductorOfFile, {
      circuit: '',
      phase: '',
      ...given,
      startLlh,
      endLlh: ends[ends.length - 1],
      ...(between.length > 0 && !hangs && { wirePointsLlh: between }),
      bundle,
    });
  });
  const { name, owner, voltageKv } = mapping;
  return {
    line: { format: 'corposant-line', version: 1, name, owner, voltageKv, structures, components, conductors },
    leftOut,
  };
}

function checkColumns(fields: Readonly<Record<string, FieldSource>>, rows: readonly TableRow[], file: string): void {
  for (const [key, source] of Object.entries(fields)) {
    if (!('column' in source) || source.column in rows[0].cells) continue;
    throw new InputError({
      file,
      field: `fields.${key}`,
      found: `no column "${source.column}" (${Object.keys(rows[0].cells).join(' | ').slice(0, 160)})`,
      expected: 'a column of the table',
      todo: 'Correct the mapping.',
    });
  }
}

function cellValue(source: FieldSource, { cells }: TableRow): string | number | null | { readonly because: string } {
  if ('value' in source) return source.value;
  const cell = cells[source.column];
  if (cell === null || cell === undefined || String(cell).trim() === '') return null;
  if (source.values) {
    const value = source.values[String(cell).trim()];
    return value ?? { because: `"${cell}" in ${source.column} is not in the mapping` };
  }
  if (source.times === undefined) return cell;
  const number = Number(cell);
  return Number.isFinite(number) ? number * source.times : { because: `"${cell}" in ${source.column} is no number` };
}

function placesOf(source: PlaceSource, { cells, positions }: TableRow): (readonly [number, number, number])[] {
  const refuse = (field: string, found: string, expected: string): never => {
    throw new InputError({ file: 'table', field, found, expected, todo: 'Correct the row or the mapping.' });
  };
  const number = (column: string): number => {
    const cell = cells[column];
    const value = cell === null || cell === undefined || String(cell).trim() === '' ? Number.NaN : Number(cell);
    return Number.isFinite(value)
      ? value
      : refuse(column, cell === undefined ? 'no such column' : `"${cell ?? ''}"`, 'a number');
  };
  if ('east' in source) return [[number(source.east), number(source.north), number(source.height)]];
  if (positions.length === 0) refuse('geometry', 'none', 'a point or a line');
  const chosen = {
    point: positions.slice(0, 1),
    start: positions.slice(0, 1),
    end: positions.slice(-1),
    between: positions.slice(1, -1),
  }[source.geometry];
  return chosen.map(([e, n, h]) => {
    const height = source.height === undefined ? h : number(source.height);
    return Number.isFinite(height)
      ? [e, n, height]
      : refuse('geometry', 'a position without a height', 'three dimensions, or "height" in the mapping');
  });
}

function toWgs84(
  { system, unit, heights }: LineMapping,
  [east, north, up]: readonly [number, number, number],
): [number, number, number] {
  const k = METRES[unit];
  const [lon, lat] =
    system === 'EPSG:4979' || system === 'EPSG:4326' ? [east, north] : llhFromProjected(system, k * east, k * north);
  const height = METRES[heights.unit] * up;
  return [lon, lat, heights.above === 'EGM96' ? height + egm96UndulationM(lon, lat) : height];
}

function read<T extends z.ZodObject>(schema: T, values: Record<string, unknown>): z.infer<T> {
  const wanted: Record<string, unknown> = {};
  for (const [key, value] of Object.entries(values)) {
    if (!(key in schema.shape))
      throw new InputError({
        file: 'mapping',
        field: key,
        found: 'a field that line.json does not have',
        expected: Object.keys(schema.shape).join(', '),
        todo: 'Correct the mapping.',
      });
    // A register holds numbers as text and ids as numbers: the schema says which is meant.
    const asNumber = typeof value === 'string' && value.trim() !== '' ? Number(value) : Number.NaN;
    const takesText = schema.shape[key].safeParse(String(value)).success;
    wanted[key] =
      Array.isArray(value) || typeof value === 'object'
        ? value
        : takesText
          ? String(value)
          : Number.isFinite(asNumber)
            ? asNumber
            : value;
  }
  const result = schema.safeParse(wanted);
  if (result.success) return result.data as z.infer<T>;
  const [issue] = result.error.issues;
  const key = String(issue.path[0] ?? '');
  const found = wanted[key] === undefined ? 'nothing' : JSON.stringify(wanted[key]).slice(0, 60);
  throw new InputError({
    file: 'table',
    field: issue.path.join('.'),
    found,
    expected: issue.message.replace(/^Invalid input: expected /, '').replace(/, received .*$/, ''),
    todo: 'Correct the row or the mapping.',
  });
}
