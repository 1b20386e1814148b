import { createReadStream } from 'node:fs';
import { InputError } from '../../input/InputError.ts';
import { unreadable } from '../unreadable.ts';

/**
 * The lines of a text file, counted as an editor does. UTF-8, or where bytes are not, Latin-1: receivers write their
 * degree signs in either, and no value of ours depends on them.
 * @throws InputError where the file cannot be read
 */
export async function forEachLine(file: string, onLine: (line: string, row: number) => void): Promise<void> {
  let rest = '';
  let row = 0;
  try {
    for await (const chunk of createReadStream(file, { encoding: 'latin1', highWaterMark: 1 << 20 })) {
      const lines = (rest + chunk).split('\n');
      rest = lines.pop() as string;
      for (const line of lines) onLine(decoded(line), ++row);
    }
  } catch (error) {
    if ((error as NodeJS.ErrnoException).syscall === undefined) throw error;
    throw new InputError({
      file,
      found: unreadable(error),
      expected: 'a readable text file',
      todo: 'Check the path and the permissions.',
    });
  }
  if (rest !== '') onLine(decoded(rest), ++row);
}

const strict = new TextDecoder('utf-8', { fatal: true });

function decoded(line: string): string {
  const bare = line.endsWith('\r') ? line.slice(0, -1) : line;
  // biome-ignore lint/suspicious/noControlCharactersInRegex: the test is for bytes beyond ASCII
  if (/^[\x00-\x7f]*$/.test(bare)) return bare;
  try {
    return strict.decode(Buffer.from(bare, 'latin1')).replace(/^\uFEFF/, '');
  } catch {
    return bare;
  }
}
