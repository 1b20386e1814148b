import { InvalidArgumentError } from 'commander';

/** A word of the command line as a number 0, 1, 2 ... */
export function wholeNumber(text: string): number {
  if (!/^\d{1,9}$/.test(text)) throw new InvalidArgumentError('expected a whole number from 0 on');
  return Number(text);
}
