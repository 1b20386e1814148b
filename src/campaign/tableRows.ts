import type { Database } from 'better-sqlite3';
import { positionsOf } from './geopackageGeometry.ts';
import type { TableDefinition } from './geopackageTables.ts';

export type Cell = string | number | null | Buffer;
export type Row = Readonly<Record<string, Cell>>;

/** Gives a function that adds rows to a table. A row must fill exactly its columns; forgetting one is our mistake. */
export function inserting(db: Database, table: TableDefinition): (row: Row) => void {
  const columns = [...(table.geometry === null ? [] : ['geom']), ...Object.keys(table.columns)];
  const statement = db.prepare(
    `INSERT INTO ${table.name} (${columns.join(', ')}) VALUES (${columns.map((column) => `@${column}`).join(', ')})`,
  );
  return (row) => {
    const strange = Object.keys(row).find((column) => !columns.includes(column));
    if (strange !== undefined) throw new Error(`table ${table.name} has no column ${strange}`);
    const lost = Object.entries(row).find(([, cell]) => typeof cell === 'number' && Number.isNaN(cell));
    if (lost !== undefined) throw new RangeError(`${table.name}.${lost[0]} is NaN and cannot be stored`);
    statement.run(row);
  };
}

/** Gives a function that changes the row of that `id`; it fills all columns, as with `inserting`. */
export function updating(db: Database, table: TableDefinition): (row: Row) => void {
  const columns = [...(table.geometry === null ? [] : ['geom']), ...Object.keys(table.columns)];
  const sets = columns.filter((column) => column !== 'id').map((column) => `${column} = @${column}`);
  const statement = db.prepare(`UPDATE ${table.name} SET ${sets.join(', ')} WHERE id = @id`);
  return (row) => {
    if (statement.run(row).changes !== 1) throw new Error(`${table.name} has no row ${String(row.id)} to change`);
  };
}

/** Cells of a row that was read, by name and type; a cell of another type means that the file was damaged from outside. */
export class ReadRow {
  private readonly table: string;
  private readonly cells: Record<string, unknown>;

  constructor(table: string, cells: unknown) {
    this.table = table;
    this.cells = cells as Record<string, unknown>;
  }

  text(column: string): string {
    const cell = this.cells[column];
    if (typeof cell !== 'string') throw this.wrong(column, 'text');
    return cell;
  }

  textOrNull(column: string): string | null {
    return this.cells[column] === null ? null : this.text(column);
  }

  number(column: string): number {
    const cell = this.cells[column];
    if (typeof cell !== 'number') throw this.wrong(column, 'a number');
    return cell;
  }

  numberOrNull(column: string): number | null {
    return this.cells[column] === null ? null : this.number(column);
  }

  json<T>(column: string): T {
    return JSON.parse(this.text(column)) as T;
  }

  bytes(column: string): Uint8Array {
    const cell = this.cells[column];
    if (!(cell instanceof Uint8Array)) throw this.wrong(column, 'bytes');
    return new Uint8Array(cell);
  }

  /** Positions of the geometry, none where there is no geometry. */
  positions(): ReturnType<typeof positionsOf> {
    return this.cells.geom === null ? [] : positionsOf(this.bytes('geom'));
  }

  private wrong(column: string, expected: string): Error {
    return new Error(
      `${this.table}.${column} of row ${String(this.cells.fid)} is not ${expected}: the campaign was altered by another program`,
    );
  }
}

export const rowsOf = (db: Database, table: string, order = 'fid'): ReadRow[] =>
  db
    .prepare(`SELECT * FROM ${table} ORDER BY ${order}`)
    .all()
    .map((cells) => new ReadRow(table, cells));
