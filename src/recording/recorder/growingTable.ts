import { type FileHandle, open } from 'node:fs/promises';
import { InputError } from '../../input/InputError.ts';

const BLOCK_BYTES = 1 << 18;

/** A row of a table that is still being written: its cells by column, and its line. */
export interface GrowingRow {
  readonly line: number;
  /** '' where the column is missing. */
  cell(column: string): string;
  /** NaN where it is missing or not a number. */
  number(column: string): number;
}

/**
 * Reads a CSV table that grows while it is read, whole lines only. Plain cells: a line with quotes counts as unreadable, since a
 * recorder in flight does not write any.
 */
export class GrowingTable {
  readonly file: string;
  #handle: FileHandle | null = null;
  #position = 0;
  #rest: Buffer = Buffer.alloc(0);
  #header: readonly string[] | null = null;
  #line = 0;

  constructor(file: string) {
    this.file = file;
  }

  /**
   * The rows that came since the last call; none where the file is not there yet.
   * @param last nothing more will come: a last line without its end counts as a row
   * @returns rows, and for each line that is not one a text
   */
  async read(last: boolean): Promise<(GrowingRow | string)[]> {
    try {
      this.#handle ??= await open(this.file, 'r');
    } catch (error) {
      if ((error as NodeJS.ErrnoException).code !== 'ENOENT') throw error;
      return [];
    }
    const block = Buffer.alloc(BLOCK_BYTES);
    const { bytesRead } = await this.#handle.read(block, 0, block.length, this.#position);
    this.#position += bytesRead;
    let bytes = Buffer.concat([this.#rest, block.subarray(0, bytesRead)]);
    if (last && bytesRead === 0 && bytes.length > 0) bytes = Buffer.concat([bytes, Buffer.from('\n')]);
    const end = bytes.lastIndexOf(10) + 1;
    this.#rest = bytes.subarray(end);
    if (end === 0) return [];
    return bytes
      .toString('utf8', 0, end - 1)
      .split('\n')
      .flatMap((line) => this.#take(line.replace(/\r$/, '')));
  }

  async close(): Promise<void> {
    await this.#handle?.close();
    this.#handle = null;
  }

  #take(text: string): (GrowingRow | string)[] {
    const line = ++this.#line;
    const cells = text.replace(/^\ufeff/, '').split(',');
    if (this.#header === null) {
      this.#header = cells.map((cell) => cell.trim());
      if (!this.#header.includes('t_ns')) {
        throw new InputError({
          file: this.file,
          row: 1,
          field: 't_ns',
          found: `no such column (${this.#header.join(' | ').slice(0, 120)})`,
          expected: 'a header row with t_ns',
          todo: 'Name the columns as docs/formats.md does.',
        });
      }
      return [];
    }
    const header = this.#header;
    if (cells.length !== header.length || text.includes('"'))
      return [`${this.file}, row ${line}: '${text.slice(0, 60)}' is not ${header.length} plain cells`];
    const cell = (column: string): string => cells[header.indexOf(column)]?.trim() ?? '';
    return [{ line, cell, number: (column) => (cell(column) === '' ? Number.NaN : Number(cell(column))) }];
  }
}
