import { readdirSync } from 'node:fs';
import { expect, test } from 'vitest';
import { schemaFiles } from '../scripts/schemaFiles.ts';

test.each([...schemaFiles()])('the shipped %s says what the reader checks', async (name, text) => {
  await expect(text).toMatchFileSnapshot(`../schemas/${name}`);
});

test('no schema is shipped that no reader checks', () => {
  const shipped = readdirSync(new URL('../schemas/', import.meta.url)).filter((name) => name.endsWith('.json'));
  expect(shipped.sort()).toEqual([...schemaFiles().keys()].sort());
});
