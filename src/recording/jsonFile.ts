import { createHash } from 'node:crypto';
import { readFile } from 'node:fs/promises';
import { InputError } from '../input/InputError.ts';
import { jsonFaultAt } from './jsonFaultAt.ts';
import { unreadable } from './unreadable.ts';

export interface JsonFile {
  /** Parsed, not yet checked against a schema. */
  readonly value: unknown;
  /** SHA-256 of the bytes, hexadecimal. */
  readonly hash: string;
}

/**
 * Reads and parses one JSON file.
 * @throws InputError where it is missing, not UTF-8 or not JSON; a syntax fault is told by line and column
 */
export async function readJsonFile(file: string): Promise<JsonFile> {
  let bytes: Buffer;
  try {
    bytes = await readFile(file);
  } catch (error) {
    throw new InputError({
      file,
      found: unreadable(error),
      expected: 'a readable JSON file',
      todo: 'Check the path and the permissions.',
    });
  }
  let text: string;
  try {
    text = new TextDecoder('utf-8', { fatal: true }).decode(bytes);
  } catch {
    throw new InputError({
      file,
      found: 'bytes that are not UTF-8',
      expected: 'JSON in UTF-8',
      todo: 'Save the file in UTF-8.',
    });
  }
  try {
    return { value: JSON.parse(text), hash: createHash('sha256').update(bytes).digest('hex') };
  } catch {
    const before = text.slice(0, jsonFaultAt(text));
    const line = before.split('\n').length;
    const rest = text.slice(before.length).split('\n')[0].slice(0, 20).trimEnd();
    throw new InputError({
      file,
      row: line,
      field: `column ${before.length - before.lastIndexOf('\n')}`,
      found: rest === '' ? 'the end of the line' : JSON.stringify(rest),
      expected: 'JSON',
      todo: 'Mend the syntax at that place; a comma or a bracket may be missing just before it.',
    });
  }
}
