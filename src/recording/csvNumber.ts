import { InputError } from '../input/InputError.ts';

/**
 * The number that a cell holds.
 * @throws InputError where the cell is empty, not a number, not finite, or outside `[min, max]`
 */
export function csvNumber(
  text: string,
  file: string,
  row: number,
  field: string,
  min = -Infinity,
  max = Infinity,
): number {
  const value = Number(text);
  // Number('') is 0 and Number('0x1F') is 31: neither is what a table of measurements means.
  const letter = text.charCodeAt(1) | 32;
  const isNumber = Number.isFinite(value) && letter !== 120 && letter !== 111 && letter !== 98 && text.trim() !== '';
  if (isNumber && value >= min && value <= max) return value;
  throw new InputError({
    file,
    row,
    field,
    found: text.trim() === '' ? 'an empty cell' : text.trim(),
    expected: isNumber || min > -Infinity ? `a number from ${min} to ${max}` : 'a number',
    todo: isNumber ? 'Check the unit and the column.' : 'Leave rows without a measurement out of the table.',
  });
}

/** An integer of nanoseconds (or bytes). @throws InputError as `csvNumber`, and for fractions and beyond 2^53 */
export function csvInteger(text: string, file: string, row: number, field: string, what: string, min: number): number {
  const value = csvNumber(text, file, row, field);
  if (Number.isSafeInteger(value) && value >= min) return value;
  throw new InputError({
    file,
    row,
    field,
    found: text.trim(),
    expected: what,
    todo: Number.isInteger(value)
      ? 'Check the unit and the column.'
      : 'Seconds, milliseconds and microseconds have to be converted first.',
  });
}
