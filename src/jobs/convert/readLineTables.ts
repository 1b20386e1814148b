import { dirname, join } from 'node:path';
import { InputError } from '../../input/InputError.ts';
import { parseWith } from '../../input/parseWith.ts';
import {
  type LineFromTables,
  type LineTables,
  lineFileFromTables,
  type TableRow,
} from '../../line/lineFileFromTables.ts';
import { LINE_TABLES, type LineMapping, lineMapping } from '../../line/lineMapping.ts';
import { readJsonFile } from '../../recording/jsonFile.ts';
import { readTextTable } from '../../recording/mapped/textTable.ts';
import { geopackageLayer } from './geopackageLayer.ts';

/**
 * Reads a line from the tables of an owner's register by a mapping.
 * @param source a GeoPackage, or a folder (or one of its files) with the CSV tables that the mapping names
 */
export async function readLineTables(
  source: string,
  mappingFile: string,
): Promise<LineFromTables & { readonly rows: Readonly<Record<string, number>> }> {
  const mapping = parseWith(lineMapping, (await readJsonFile(mappingFile)).value, mappingFile);
  const tables: Record<string, readonly TableRow[]> = {};
  for (const name of LINE_TABLES) {
    const how = mapping[name];
    if (!how) continue;
    tables[name] = /\.gpkg$/i.test(source)
      ? layerOf(source, how.from, mapping)
      : await csvRows(join(/\.(csv|txt|tsv)$/i.test(source) ? dirname(source) : source, how.from), how);
  }
  const found = lineFileFromTables(mapping, tables as LineTables, source);
  return { ...found, rows: Object.fromEntries(Object.entries(tables).map(([name, rows]) => [name, rows.length])) };
}

function layerOf(file: string, name: string, { system }: LineMapping): readonly TableRow[] {
  const { rows, epsg } = geopackageLayer(file, name);
  const same = epsg === null || `EPSG:${epsg}` === system || (epsg === 4326 && system === 'EPSG:4979');
  if (!same)
    throw new InputError({
      file,
      field: name,
      found: `a layer in EPSG:${epsg}`,
      expected: `${system}, as the mapping says`,
      todo: 'Correct "system" in the mapping: the file knows better.',
    });
  return rows;
}

async function csvRows(
  file: string,
  { separator, decimalMark }: Pick<LineMapping['structures'], 'separator' | 'decimalMark'>,
): Promise<readonly TableRow[]> {
  const rows: TableRow[] = [];
  let names: readonly string[] = [];
  await readTextTable(file, { separator, decimalMark, comments: [], headerLine: 1 }, (columns) => {
    names = columns.names;
    return ({ row, cells }) => {
      rows.push({ row, positions: [], cells: Object.fromEntries(names.map((name, i) => [name, cells[i]])) });
    };
  });
  return rows;
}
