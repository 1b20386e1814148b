/** A decimal number of some unit of time, split without rounding into whole seconds and nanoseconds (0 to 999,999,999). */
export interface SecondsParts {
  readonly s: number;
  readonly ns: number;
}

const DECIMALS = { s: 0, ms: 3, us: 6, ns: 9 } as const;
export type TimeUnit = keyof typeof DECIMALS;

const NUMBER = /^([+-]?)(\d*)(?:\.(\d*))?(?:[eE]([+-]?\d{1,2}))?$/;

/**
 * Splits the text of a number of seconds, milli-, micro- or nanoseconds. Nineteen digits of nanoseconds since 1970 do not fit
 * a float64; read as text they do. Digits below the nanosecond are cut.
 * @returns null where the text is no decimal number
 */
export function secondsParts(text: string, unit: TimeUnit): SecondsParts | null {
  const parts = NUMBER.exec(text.trim());
  if (!parts || ((parts[2] ?? '') === '' && (parts[3] ?? '') === '')) return null;
  const [, sign, whole = '', fraction = '', exponent = '0'] = parts;
  // All digits in a row, with the point before `point`; then the point moves to where seconds begin.
  const digits = whole + fraction;
  const point = whole.length + Number(exponent) - DECIMALS[unit];
  const at = (i: number): string => (i < 0 || i >= digits.length ? '0' : digits[i]);
  let s = 0;
  for (let i = Math.min(0, point); i < point; i++) s = 10 * s + Number(at(i));
  let ns = 0;
  for (let i = point; i < point + 9; i++) ns = 10 * ns + Number(at(i));
  if (sign !== '-') return { s, ns };
  return ns === 0 ? { s: -s, ns: 0 } : { s: -s - 1, ns: 1e9 - ns };
}
