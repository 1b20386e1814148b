import { expect, test } from 'vitest';
import { DEFAULT_RULES } from '../../grade/RuleTable.ts';
import { fill, fillPlural } from './fill.ts';
import { inLanguage } from './inLanguage.ts';
import { REPORT_LANGUAGES, wordsOf } from './wordsOf.ts';

function leaves(value: unknown, path: string): [string, string][] {
  if (typeof value === 'string') return [[path, value]];
  return Object.entries(value as Record<string, unknown>).flatMap(([key, inner]) => leaves(inner, `${path}.${key}`));
}
const places = (sentence: string) => [...sentence.matchAll(/\{(\w+)\}/g)].map(([, key]) => key).sort();

test.each(REPORT_LANGUAGES)('every sentence in "%s" is written, and has the places of the English one', (language) => {
  const own = new Map(leaves(wordsOf(language), ''));
  const english = leaves(wordsOf('en'), '');
  expect(english.length).toBeGreaterThan(200);
  for (const [path, sentence] of english) {
    expect(own.get(path)?.trim(), path).toBeTruthy();
    expect(places(own.get(path)!), path).toEqual(places(sentence));
  }
  expect(own.size).toBe(english.length);
});

test('German shares no whole sentence with English', () => {
  const english = new Map(leaves(wordsOf('en'), ''));
  const same = leaves(wordsOf('de'), '').filter(
    ([path, sentence]) =>
      english.get(path) === sentence && (sentence.replace(/\{\w+\}/g, '').match(/\p{L}{2,}/gu) ?? []).length > 3,
  );
  expect(same).toEqual([]);
});

test('a sentence with a hole does not leave the house', () => {
  expect(() => fill('{n} of {all}', { n: 3 })).toThrow(/\{all\}/);
});

test('one finding is singular and two are not, in both languages', () => {
  expect(fillPlural('en', wordsOf('en').passes, 1, { n: 1 })).toBe('1 pass');
  expect(fillPlural('de', wordsOf('de').passes, 2, { n: 2 })).toBe('2 Überflügen');
});

test("every rule that is shipped, and its advice, is told in German, and an owner's own rule stays as it is", () => {
  for (const { name, advice } of DEFAULT_RULES.rules) {
    expect(inLanguage(name, wordsOf('de')), name).not.toBe(name);
    expect(inLanguage(`${advice} More.`, wordsOf('de')), advice).not.toContain(advice);
    expect(inLanguage(advice, wordsOf('en'))).toBe(advice);
  }
  expect(inLanguage('Ring the depot at Tarnay.', wordsOf('de'))).toBe('Ring the depot at Tarnay.');
});
