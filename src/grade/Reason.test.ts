import { expect, test } from 'vitest';
import { reasonInEnglish } from './reasonsInEnglish.ts';

test('a probability that underflowed to nothing is told as small, and one that did not as it is', () => {
  const gone = (probability: number) => reasonInEnglish({ key: 'gone', values: { limit: 1.5e10, probability } });
  expect(gone(0)).toContain('probability of <\u00a01e-9.');
  expect(gone(4e-9)).toContain('probability of 4e-9.');
});
