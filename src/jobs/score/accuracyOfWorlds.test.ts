import { expect, test } from 'vitest';
import { share } from './accuracyOfWorlds.ts';

test('the 95 % interval of 8 of 10 is that of Clopper and Pearson: 44.4 to 97.5 % (any table of exact binomial limits)', () => {
  expect(share(8, 10)).toBe('8 of 10, 80.0 % (44.4 to 97.5 %)');
});

test('none of 20 still allows 16.8 %: 1 - 0.025^(1/20)', () => {
  expect(share(0, 20)).toBe('0 of 20, 0.0 % (0.0 to 16.8 %)');
  expect(100 * (1 - 0.025 ** (1 / 20))).toBeCloseTo(16.84, 2);
});
