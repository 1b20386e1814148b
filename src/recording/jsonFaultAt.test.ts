import fc from 'fast-check';
import { expect, test } from 'vitest';
import { jsonFaultAt } from './jsonFaultAt.ts';

test.each<[text: string, at: number]>([
  ['{"a": 1,}', 8],
  ['{"a": 1 "b": 2}', 8],
  ['[1, 2', 5],
  ['{"a": tru}', 6],
  ['[01]', 2],
  ['{"a": "x\ny"}', 8],
  ['{"a": "\\q"}', 7],
  ["{'a': 1}", 1],
  ['{"a": 1} x', 9],
  ['', 0],
  ['[1, NaN]', 4],
])('%j stops being JSON at character %i', (text, at) => {
  expect(jsonFaultAt(text)).toBe(at);
});

test('what the language parses has no fault, and what has a fault within it does not parse, seed 4711', () => {
  const damaged = fc.tuple(
    fc.json(),
    fc.nat(),
    fc.constantFrom('', ',', '}', ']', '"', ':', 'x', '0', '\\', '{', '\u0007'),
  );
  fc.assert(
    fc.property(damaged, ([json, where, put]) => {
      const at = where % (json.length + 1);
      const text = json.slice(0, at) + put + json.slice(at + 1);
      let parses = true;
      try {
        JSON.parse(text);
      } catch {
        parses = false;
      }
      const fault = jsonFaultAt(text);
      if (parses) expect(fault).toBe(text.length);
      if (fault < text.length) expect(parses).toBe(false);
      // And nothing before the fault is at fault: the text up to there can be continued.
      expect(jsonFaultAt(text.slice(0, fault))).toBe(fault);
    }),
    { seed: 4711, numRuns: 3000 },
  );
});
