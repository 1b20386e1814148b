import { createReadStream } from 'node:fs';
import { InputError } from '../input/InputError.ts';
import { CsvRow } from './CsvRow.ts';
import { unreadable } from './unreadable.ts';

export interface CsvColumns {
  readonly required: readonly string[];
  readonly optional: readonly string[];
}

const LINE_END = 10;
const RETURN = 13;
const QUOTE = 34;
const BYTE_ORDER_MARK = Buffer.of(0xef, 0xbb, 0xbf);

/**
 * Reads a table row by row, in blocks, without holding the file in memory. Comma-separated UTF-8 with one header row;
 * columns in any order, further ones ignored; quoted as in RFC 4180. Rows count lines as an editor does (header = 1).
 * @param onRow called with the cells of `[...required, ...optional]`, borrowed
 * @throws InputError for a missing file, a missing or repeated column, a row with too few or too many cells, an empty
 *   line among the rows, an unclosed quote, bytes that are not UTF-8
 */
export async function readCsvRows(
  file: string,
  columns: CsvColumns,
  onRow: (cells: CsvRow, row: number) => void,
): Promise<void> {
  const table = new Table(file, columns, onRow);
  let rest: Buffer = Buffer.alloc(0);
  let first = true;
  try {
    for await (const chunk of createReadStream(file, { highWaterMark: 1 << 20 })) {
      let bytes = rest.length === 0 ? (chunk as Buffer) : Buffer.concat([rest, chunk as Buffer]);
      if (first && bytes.subarray(0, 3).equals(BYTE_ORDER_MARK)) bytes = bytes.subarray(3);
      first = false;
      rest = table.takeLines(bytes);
    }
    if (rest.length > 0) table.takeLines(Buffer.concat([rest, Buffer.of(LINE_END)]));
  } catch (error) {
    if (error instanceof InputError) throw error;
    const notText = (error as NodeJS.ErrnoException).code === 'ERR_ENCODING_INVALID_ENCODED_DATA';
    // A fault of our own must not be told as one of the file.
    if (!notText && (error as NodeJS.ErrnoException).syscall === undefined) throw error;
    throw new InputError({
      file,
      found: notText ? 'bytes that are not UTF-8' : unreadable(error),
      expected: notText ? 'a table in UTF-8' : 'a readable table',
      todo: notText ? 'Save the table in UTF-8.' : 'Check the path and the permissions.',
    });
  }
  table.end();
}

class Table {
  private readonly file: string;
  private readonly columns: CsvColumns;
  private readonly onRow: (cells: CsvRow, row: number) => void;
  private readonly cells: CsvRow;
  private line = 0;
  /** For each column of the file: its place among the cells asked for, or -1; null before the header. */
  private placeOf: Int32Array | null = null;
  private emptyLine = 0;
  /** Lines of a record whose quote is still open, and where it began. */
  private open: { text: string; line: number } | null = null;

  constructor(file: string, columns: CsvColumns, onRow: (cells: CsvRow, row: number) => void) {
    this.file = file;
    this.columns = columns;
    this.onRow = onRow;
    this.cells = new CsvRow(columns.required.length + columns.optional.length);
  }

  /** Takes all whole lines and returns what is left after the last line end. */
  takeLines(bytes: Buffer): Buffer {
    let quote = bytes.indexOf(QUOTE);
    for (let from = 0; ; ) {
      const end = bytes.indexOf(LINE_END, from);
      if (end < 0) return bytes.subarray(from);
      if (quote >= 0 && quote < from) quote = bytes.indexOf(QUOTE, from);
      const trimmed = end > from && bytes[end - 1] === RETURN ? end - 1 : end;
      this.line++;
      if (this.open !== null || this.placeOf === null || (quote >= 0 && quote < end)) {
        this.takeRecord(
          new TextDecoder('utf-8', { fatal: true, ignoreBOM: true }).decode(bytes.subarray(from, trimmed)),
        );
      } else if (trimmed === from) this.emptyLine ||= this.line;
      else this.giveRow(this.cells.takeLine(bytes, from, trimmed, this.placeOf), this.line);
      from = end + 1;
    }
  }

  end(): void {
    if (this.open !== null) {
      throw new InputError({
        file: this.file,
        row: this.open.line,
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

  /** A header, or a line with quotes in it or before it. */
  private takeRecord(line: string): void {
    const text = this.open === null ? line : `${this.open.text}\n${line}`;
    const row = this.open?.line ?? this.line;
    this.open = null;
    if ((text.split('"').length - 1) % 2 === 1) {
      this.open = { text, line: row };
      return;
    }
    const found = unquotedCells(text);
    if (this.placeOf === null) {
      if (text !== '') this.takeHeader(found.map((cell) => cell.trim()));
      return;
    }
    this.cells.takeCells(found, this.placeOf);
    this.giveRow(found.length, row);
  }

  private giveRow(cells: number, row: number): void {
    const width = this.placeOf!.length;
    if (this.emptyLine > 0) {
      throw new InputError({
        file: this.file,
        row: this.emptyLine,
        found: 'an empty line among the rows',
        expected: 'one row a line',
        todo: 'Remove the empty line, and check that no row was lost there.',
      });
    }
    if (cells !== width) {
      throw new InputError({
        file: this.file,
        row,
        found: `${cells} cells`,
        expected: `${width} as in the header`,
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
    this.placeOf = Int32Array.from(header, (name) => wanted.indexOf(name));
  }
}

/** Cells of one record; a doubled quote inside quotes is a quote. */
function unquotedCells(record: string): string[] {
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
