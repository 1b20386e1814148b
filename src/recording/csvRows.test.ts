import fc from 'fast-check';
import { expect, test } from 'vitest';
import { CsvRow } from './CsvRow.ts';

function numberIn(text: string): number {
  const row = new CsvRow(1);
  const bytes = Buffer.from(`x,${text},y`);
  expect(row.takeLine(bytes, 0, bytes.length, Int32Array.of(-1, 0, -1))).toBe(3);
  return row.number(0);
}

test('a decimal is read as the nearest number, the one that the language itself reads, seed 20260512', () => {
  const digits = (most: number) => fc.stringMatching(new RegExp(`^[0-9]{0,${most}}$`));
  fc.assert(
    fc.property(
      fc.constantFrom('', '-', '+'),
      digits(20),
      digits(22),
      fc.constantFrom('', '.'),
      (sign, whole, part, point) => {
        const text = `${sign}${whole}${point}${point === '' ? '' : part}`;
        fc.pre(/\d/.test(text));
        expect(Object.is(numberIn(text), Number(text))).toBe(true);
      },
    ),
    { seed: 20260512, numRuns: 3000 },
  );
});

test('every double printed by the language is read back bit by bit, seed 77', () => {
  fc.assert(
    fc.property(fc.double({ noNaN: true, noDefaultInfinity: true }), (value) => {
      expect(Object.is(numberIn(String(value)), Object.is(value, -0) ? 0 : value)).toBe(true);
    }),
    { seed: 77, numRuns: 3000 },
  );
});

test.each(['', ' ', '.', '-', '+.', '1.2.3', '0x1F', '0b1', '1e', 'NaN', 'Infinity', '1_000', '--1', '1-'])(
  'what is no decimal number is none: "%s"',
  (text) => {
    expect(numberIn(text)).toBeNaN();
  },
);

test('spaces around a number do not count, an exponent does', () => {
  expect(numberIn(' 12.5 ')).toBe(12.5);
  expect(numberIn('-1.25e-3')).toBe(-0.00125);
});
