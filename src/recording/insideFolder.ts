import { isAbsolute, join, normalize, sep } from 'node:path';
import { InputError } from '../input/InputError.ts';

/**
 * Path of a file that a recording names.
 * @param where the place that names it, for the error
 * @throws InputError where it is absolute or leads out of the folder: a recording must not make us read what is not its own
 */
export function insideFolder(
  folder: string,
  name: string,
  where: { readonly file: string; readonly row?: number; readonly field: string },
): string {
  const clean = normalize(name);
  if (name !== '' && !isAbsolute(name) && !/^[A-Za-z]:/.test(name) && clean !== '..' && !clean.startsWith(`..${sep}`)) {
    return join(folder, clean);
  }
  throw new InputError({
    ...where,
    found: name === '' ? 'an empty cell' : name,
    expected: 'a path inside the folder of the recording',
    todo: 'Put the file into the folder and name it relative to it.',
  });
}
