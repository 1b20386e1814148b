import { createReadStream } from 'node:fs';
import { InputError } from '../input/InputError.ts';
import { unreadable } from './unreadable.ts';

/** Cells in the order asked for; null where an optional column is missing. Borrowed: the next row overwrites them. */
export type CsvCells = readonly (string | null)[];

/**
 * Reads a table row by row, in blocks, without holding the file in memory. Comma-separated UTF-8 with one header row;
 * columns in any order, further ones ignored; quoted as in RFC 4180. Rows count lines as an editor does (header = 1).
 * @param columns names of the columns that must be there, and of those that may
 * @param onRow   called with the cells of `[...required, ...optional]`
 * @throws InputError for a missing file, a missing or repeated column, a row with too few or too many cells, an empty
 *   line among the rows, an unclosed quote, bytes that are not UTF-8
 */
export async function readCsvRows(
  file: string,
  columns: { readonly required: readonly string[]; readonly optional: readonly string[] },
  onRow: (cells: CsvCells, row: number) => void,
): Promise<void> {
  const table = new Table(file, columns, onRow);
  const decoder = new TextDecoder('utf-8', { fatal: true });
  let rest = '';
  try {
    for await (const bytes of createReadStream(file, { highWaterMark: 1 << 20 })) {
      const text = rest + decoder.decode(bytes as Buffer, { stream: true });
      rest = table.takeLines(text);
    }
    rest += decoder.decode();
  } catch (error) {
    if (error instanceof InputError) throw error;
    const notText = error instanceof TypeError;
    throw new InputError({
      file,
      found: notText ? 'bytes that are not UTF-8' : unreadable(error),
      expected: notText ? 'a table in UTF-8' : 'a readable table',
      todo: notText ? 'Save the table in UTF-8.' : 'Check the path and the permissions.',
    });
  }
  if (rest !== '') table.takeLines(`${rest}\n`);
  table.end();
}

class Table {
  private readonly file: string;
  private readonly columns: { readonly required: readonly string[]; readonly optional: readonly string[] };
  private readonly onRow: (cells: CsvCells, row: number) => void;
  private line = 0;
  private width = 0;
  /** For each column of the file: its place in `cells`, or -1. */
  private placeOf: Int32Array | null = null;
  private cells: (string | null)[] = [];
  private emptyLine = 0;
  private openQuote = '';
  private openQuoteLine = 0;

  constructor(
    file: string,
    columns: { readonly required: readonly string[]; readonly optional: readonly string[] },
    onRow: (cells: CsvCells, row: number) => void,
  ) {
    this.file = file;
    this.columns = columns;
    this.onRow = onRow;
  }

  /** Takes all whole lines and returns what is left after the last line end. */
  takeLines(text: string): string {
    let from = 0;
    for (;;) {
      const end = text.indexOf('\n', from);
      if (end < 0) return text.slice(from);
      this.takeLine(text.slice(from, text.charCodeAt(end - 1) === 13 && end > from ? end - 1 : end));
      from = end + 1;
    }
  }

  end(): void {
    if (this.openQuote !== '') {
      throw new InputError({
        file: this.file,
        row: this.openQuoteLine,
        found: 'a quote that is never closed',
        expected: 'quotes in pairs',
        todo: 'Close the quote, or remove it.',
      });
    }
    if (this.placeOf === null) {
      throw new InputError({
        file: this.file,
        found: 'an empty file',
        expected: `a header row with ${this.columns.required.join(', ')}`,
        todo: 'Write the table again.',
      });
    }
  }

  private takeLine(line: string): void {
    this.line++;
    if (this.openQuote !== '' || line.includes('"')) {
      const joined = this.openQuote === '' ? line : `${this.openQuote}\n${line}`;
      if ((joined.split('"').length - 1) % 2 === 1) {
        if (this.openQuote === '') this.openQuoteLine = this.line;
        this.openQuote = joined;
        return;
      }
      const row = this.openQuote === '' ? this.line : this.openQuoteLine;
      this.openQuote = '';
      this.takeCells(quotedCells(joined), row);
    } else if (line === '') {
      this.emptyLine ||= this.line;
    } else if (this.placeOf === null) {
      this.takeCells(line.split(','), this.line);
    } else {
      this.takePlainLine(line, this.placeOf);
    }
  }

  /** The common case, without an array of all cells. */
  private takePlainLine(line: string, placeOf: Int32Array): void {
    let from = 0;
    let column = 0;
    for (;;) {
      const end = line.indexOf(',', from);
      if (column < this.width && placeOf[column] >= 0) {
        this.cells[placeOf[column]] = end < 0 ? line.slice(from) : line.slice(from, end);
      }
      column++;
      if (end < 0) break;
      from = end + 1;
    }
    this.giveRow(column, this.line);
  }

  private takeCells(found: readonly string[], row: number): void {
    if (this.placeOf === null) {
      this.takeHeader(found.map((cell) => cell.trim()));
      return;
    }
    for (let i = 0; i < this.width; i++) if (this.placeOf[i] >= 0) this.cells[this.placeOf[i]] = found[i] ?? '';
    this.giveRow(found.length, row);
  }

  private giveRow(cells: number, row: number): void {
    if (this.emptyLine > 0) {
      throw new InputError({
        file: this.file,
        row: this.emptyLine,
        found: 'an empty line among the rows',
        expected: 'one row a line',
        todo: 'Remove the empty line, and check that no row was lost there.',
      });
    }
    if (cells !== this.width) {
      throw new InputError({
        file: this.file,
        row,
        found: `${cells} cells`,
        expected: `${this.width} as in the header`,
        todo: 'The file may be cut off here, or numbers were written with a decimal comma; write the table again.',
      });
    }
    this.onRow(this.cells, row);
  }

  private takeHeader(header: readonly string[]): void {
    const wanted = [...this.columns.required, ...this.columns.optional];
    for (const name of wanted) {
      const missing = !header.includes(name) && this.columns.required.includes(name);
      const repeated = header.indexOf(name) !== header.lastIndexOf(name);
      if (!missing && !repeated) continue;
      throw new InputError({
        file: this.file,
        row: 1,
        field: name,
        found: missing ? `no such column (${header.join(' | ').slice(0, 120)})` : 'the column twice',
        expected: `a comma-separated header with ${this.columns.required.join(', ')}`,
        todo: 'Name the columns as docs/formats.md does.',
      });
    }
    this.width = header.length;
    this.placeOf = Int32Array.from(header, (name) => wanted.indexOf(name));
    this.cells = wanted.map(() => null);
  }
}

/** Cells of one record that has quotes in it; a doubled quote inside quotes is a quote. */
function quotedCells(record: string): string[] {
  const cells: string[] = [];
  let cell = '';
  let inQuotes = false;
  for (let i = 0; i < record.length; i++) {
    const c = record[i];
    if (c === '"' && inQuotes && record[i + 1] === '"') {
      cell += '"';
      i++;
    } else if (c === '"') inQuotes = !inQuotes;
    else if (c === ',' && !inQuotes) {
      cells.push(cell);
      cell = '';
    } else cell += c;
  }
  return [...cells, cell];
}
