import type { z } from 'zod';
import { InputError } from './InputError.ts';

/**
 * Checks a parsed JSON value against its schema.
 * @throws InputError for the first fault, with the path of the field, e.g. `cameras.uv.widthPx`
 */
export function parseWith<T extends z.ZodType>(schema: T, value: unknown, file: string): z.infer<T> {
  const result = schema.safeParse(value);
  if (result.success) return result.data;
  const issue = result.error.issues[0];
  let found: unknown = value;
  for (const key of issue.path) found = (found as Record<PropertyKey, unknown> | undefined)?.[key];
  const text = found === undefined ? 'nothing' : JSON.stringify(found);
  throw new InputError({
    file,
    field: issue.path.join('.') || '(whole file)',
    found: text.length > 80 ? `${text.slice(0, 77)}...` : text,
    expected: issue.message.replace(/^Invalid input: expected /, '').replace(/, received .*$/, ''),
    todo: 'Correct the field; docs/formats.md describes the file.',
  });
}
