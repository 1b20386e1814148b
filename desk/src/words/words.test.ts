import { expect, test } from 'vitest';
import { de } from './de/index.ts';
import { en } from './en/index.ts';

function leaves(value: unknown, path = ''): [string, string][] {
  if (typeof value === 'string') return [[path, value]];
  return Object.entries(value as Record<string, unknown>).flatMap(([key, inner]) => leaves(inner, `${path}.${key}`));
}
const holes = (sentence: string) => [...new Set([...sentence.matchAll(/\{\{(\w+)\}\}/g)].map(([, key]) => key))].sort();
const english = new Map(leaves(en));
const german = new Map(leaves(de));

test('both languages have the same keys, none of them empty', () => {
  expect([...german.keys()].sort()).toEqual([...english.keys()].sort());
  for (const [key, sentence] of [...english, ...german]) expect(sentence.trim(), key).not.toBe('');
});

test('a German sentence has the places for figures and names that the English one has', () => {
  for (const [key, sentence] of english) expect(holes(german.get(key)!), key).toEqual(holes(sentence));
});

test('no German sentence was left in English', () => {
  const same = [...english].filter(
    ([key, sentence]) =>
      german.get(key) === sentence && (sentence.replace(/\{\{\w+\}\}/g, '').match(/\p{L}{2,}/gu) ?? []).length > 3,
  );
  expect(same).toEqual([]);
});
