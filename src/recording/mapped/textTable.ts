import { InputError } from '../../input/InputError.ts';
import type { TableLayout } from './TrajectoryMapping.ts';
import { forEachLine } from './textLines.ts';

/** One line of values. `row` counts as an editor does. */
export interface TextRow {
  readonly row: number;
  readonly cells: readonly string[];
}

/** Finds columns by their names, and says what is there where one is missing. */
export class Columns {
  private readonly file: string;
  private readonly row: number | undefined;
  readonly names: readonly string[];

  constructor(file: string, row: number | undefined, names: readonly string[]) {
    this.file = file;
    this.row = row;
    this.names = names;
  }

  /** @throws InputError where the file has no such column, or several */
  at(name: string, field: string): number {
    const number = /^#(\d+)$/.exec(name);
    if (number) {
      const i = Number(number[1]) - 1;
      if (i >= 0 && (this.names.length === 0 || i < this.names.length)) return i;
      throw this.fault(field, `${this.names.length} columns`, `column ${name}`);
    }
    const first = this.names.indexOf(name);
    if (first < 0) {
      const near = this.names.find((n) => n.toLowerCase().trim() === name.toLowerCase().trim());
      throw this.fault(
        field,
        this.names.length === 0
          ? 'no names of columns'
          : `no column "${name}" (${this.names.join(' | ').slice(0, 160)})`,
        near === undefined ? `the column "${name}" of the mapping` : `"${name}"; there is "${near}"`,
      );
    }
    if (this.names.indexOf(name, first + 1) >= 0)
      throw this.fault(field, `"${name}" more than once`, 'one column of that name; "#4" names the fourth');
    return first;
  }

  private fault(field: string, found: string, expected: string): InputError {
    return new InputError({
      file: this.file,
      ...(this.row !== undefined && { row: this.row }),
      field,
      found,
      expected,
      todo: 'Correct the mapping, or export the column.',
    });
  }
}

/**
 * Reads a text table by its layout, row by row.
 * @param onHeader gives what takes the rows, once the names of the columns are known
 * @throws InputError for a missing file or header, and rows with another number of cells than the header
 */
export async function readTextTable(
  file: string,
  layout: TableLayout,
  onHeader: (columns: Columns) => (row: TextRow) => void,
): Promise<void> {
  if ((layout.headerLine === undefined) === (layout.columns === undefined))
    throw new InputError({
      file: `mapping of ${file}`,
      field: 'headerLine, columns',
      found: layout.columns === undefined ? 'neither' : 'both',
      expected: 'the line that names the columns, or their names',
      todo: 'Give one of the two.',
    });
  const split = splitter(layout);
  const firstLine = layout.firstLine ?? (layout.headerLine ?? 0) + 1;
  let width = -1;
  let onRow: ((row: TextRow) => void) | null = null;
  if (layout.columns) {
    width = layout.columns.length;
    onRow = onHeader(new Columns(file, undefined, layout.columns));
  }
  await forEachLine(file, (line, row) => {
    if (row === layout.headerLine) {
      const mark = layout.comments.find((c) => line.trimStart().startsWith(c));
      const names = split(mark === undefined ? line : line.trimStart().slice(mark.length));
      width = names.length;
      onRow = onHeader(new Columns(file, row, names));
      return;
    }
    if (row < firstLine || line.trim() === '' || layout.comments.some((c) => line.trimStart().startsWith(c))) return;
    const cells = split(line);
    if (onRow === null || cells.length !== width)
      throw new InputError({
        file,
        row,
        found: `${cells.length} cells`,
        expected: onRow === null ? 'the header before the first row' : `${width}, as there are names`,
        todo:
          onRow === null
            ? 'Correct headerLine or firstLine in the mapping.'
            : 'The file may be cut off here, or the separator or the decimal mark is another; correct the mapping.',
      });
    onRow({ row, cells });
  });
  if (onRow === null)
    throw new InputError({
      file,
      found: `fewer lines than ${layout.headerLine}`,
      expected: 'a header and rows',
      todo: 'Correct headerLine in the mapping.',
    });
}

function splitter({ separator, decimalMark }: TableLayout): (line: string) => string[] {
  const point = (cell: string): string => (decimalMark === ',' ? cell.trim().replace(',', '.') : cell.trim());
  if (separator === 'blanks') return (line) => line.trim().split(/\s+/).map(point);
  const mark = { comma: ',', semicolon: ';', tab: '\t', bar: '|' }[separator];
  return (line) => {
    if (!line.includes('"')) return line.split(mark).map(point);
    const cells: string[] = [];
    let cell = '';
    let quoted = false;
    for (let i = 0; i < line.length; i++) {
      if (line[i] === '"' && quoted && line[i + 1] === '"') cell += line[++i];
      else if (line[i] === '"') quoted = !quoted;
      else if (line[i] === mark && !quoted) {
        cells.push(point(cell));
        cell = '';
      } else cell += line[i];
    }
    return [...cells, point(cell)];
  };
}
