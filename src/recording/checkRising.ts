import { InputError } from '../input/InputError.ts';

/** @throws InputError where a time repeats or goes back */
export function checkRising(tNs: number, previousNs: number, file: string, row: number): void {
  if (tNs > previousNs) return;
  throw new InputError({
    file,
    row,
    field: 't_ns',
    found: tNs === previousNs ? `${tNs}, the same as in the row before` : `${tNs} after ${previousNs}`,
    expected: 'times strictly rising',
    todo: 'Sort the rows by time and find out why the recorder gave them so; a clock may have been reset.',
  });
}
