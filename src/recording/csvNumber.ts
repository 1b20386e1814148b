import { InputError } from '../input/InputError.ts';
import type { CsvRow } from './CsvRow.ts';

/**
 * The number that a cell holds.
 * @throws InputError where the cell is empty, not a decimal number, or outside `[min, max]`
 */
export function csvNumber(
  cells: CsvRow,
  cell: number,
  file: string,
  row: number,
  field: string,
  min = -Infinity,
  max = Infinity,
): number {
  const value = cells.number(cell);
  if (Number.isFinite(value) && value >= min && value <= max) return value;
  const text = cells.text(cell).trim();
  throw new InputError({
    file,
    row,
    field,
    found: text === '' ? 'an empty cell' : text,
    expected: min > -Infinity ? `a number from ${min} to ${max}` : 'a number',
    todo: Number.isFinite(value)
      ? 'Check the unit and the column.'
      : 'Leave rows without a measurement out of the table.',
  });
}

/**
 * A whole number, held exactly.
 * @param what the number is, for the error
 * @throws InputError as `csvNumber`, and for fractions, for numbers below `min` and beyond 2^53
 */
export function csvInteger(
  cells: CsvRow,
  cell: number,
  file: string,
  row: number,
  field: string,
  what: string,
  min: number,
): number {
  const value = csvNumber(cells, cell, file, row, field);
  if (Number.isSafeInteger(value) && value >= min) return value;
  throw new InputError({
    file,
    row,
    field,
    found: cells.text(cell).trim(),
    expected: what,
    todo: Number.isInteger(value)
      ? 'Check the unit and the column.'
      : 'Seconds, milliseconds and microseconds have to be converted first.',
  });
}
