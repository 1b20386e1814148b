import { expect, test } from 'vitest';
import type { PhotonRate } from '../grade/PhotonRate.ts';
import { numberTextFor } from './numberText.ts';
import { wordsOf } from './words/wordsOf.ts';

const en = numberTextFor(wordsOf('en'));
const de = numberTextFor(wordsOf('de'));
const plainSpaces = (text: string) => text.replace(/[\u00a0\u202f]/g, ' ');

const rate = (rateHz: number, lower: number, upper: number): PhotonRate => ({
  rateHz,
  countingInterval: { lower, upper },
  interval: { lower, upper },
  events: 40,
  overdispersion: 1,
  bandNm: [240, 280],
  budget: [],
  notes: [],
});

test('a rate and both ends of its interval share one power of ten and the digits that the interval allows', () => {
  expect(plainSpaces(en.rate(rate(431_870, 302_000, 594_800)))).toBe('4.3 (3.0 to 5.9) × 10⁵ photons/s');
  expect(plainSpaces(de.rate(rate(3.1234e11, 2.98e11, 3.27e11)))).toBe('3,12 (2,98 bis 3,27) × 10¹¹ Photonen/s');
  expect(plainSpaces(en.rate(rate(840, 610, 1120)))).toBe('840 (610 to 1120) photons/s');
});

test('a limit has two digits and a unit', () => {
  expect(plainSpaces(en.limit(9437))).toBe('9400 photons/s');
  expect(plainSpaces(de.limit(1.284e10))).toBe('1,3 × 10¹⁰ Photonen/s');
});

test('groups of three are set apart from five digits on, and a negative number has a minus and not a hyphen', () => {
  expect(plainSpaces(en.fixed(-29.7134, 2))).toBe('−29.71');
  expect(plainSpaces(en.integer(1234))).toBe('1234');
  expect(plainSpaces(de.fixed(4885244.7, 2))).toBe('4 885 244,70');
  expect(en.fixed(-0.0004, 2)).toBe('0.00');
});

test('a probability is never rounded to certainty or to nothing', () => {
  expect(plainSpaces(en.percent(0.99981))).toBe('> 99.9 %');
  expect(plainSpaces(en.percent(0.0002))).toBe('< 0.1 %');
  expect(plainSpaces(en.percent(0.934))).toBe('93 %');
});

test('a figure as given gains no zeros that would claim precision', () => {
  expect(en.asGiven(0.27, 3)).toBe('0.27');
  expect(en.asGiven(150, 4)).toBe('150');
  expect(en.asGiven(16.66667, 3)).toBe('16.7');
});
