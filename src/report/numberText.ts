import type { PhotonRate } from '../grade/PhotonRate.ts';
import type { Words } from './words/Words.ts';

const NARROW_SPACE = '\u202f';
const MINUS = '\u2212';
const SUPERSCRIPTS = ['⁰', '¹', '²', '³', '⁴', '⁵', '⁶', '⁷', '⁸', '⁹'];

type RateWithInterval = Pick<PhotonRate, 'rateHz' | 'interval'>;

/** How numbers are printed in one language: decimal mark from the catalogue, thin groups of three from five digits on (ISO 80000-1). */
export interface NumberText {
  fixed(value: number, decimals: number): string;
  integer(value: number): string;
  /** To this many significant digits, in plain notation. */
  significant(value: number, digits: number): string;
  /** As given, to at most this many significant digits: no zeros are added that would claim precision. */
  asGiven(value: number, mostDigits: number): string;
  percent(share: number): string;
  /** A rate with its interval, one power of ten for all three: `1.24 (0.95 to 1.62) × 10⁵ photons/s`. */
  rate(rate: RateWithInterval): string;
  /** The same in two lines, for a narrow column: the rate, and below it its interval. */
  rateLines(rate: RateWithInterval): string;
  /** Another interval of the same rate, at the same power of ten and with the same decimals. */
  intervalLike(rate: RateWithInterval, lower: number, upper: number): string;
  /** With its power of ten and so many decimals: `1.2 × 10⁵`, `4 × 10⁻⁷`. */
  powerOfTen(value: number, decimals: number): string;
  /** A limit of detection to two digits, with its unit. */
  limit(rateHz: number): string;
}

export function numberTextFor(words: Words): NumberText {
  const fixed = (value: number, decimals: number): string => {
    const text = Math.abs(value).toFixed(decimals);
    const [whole = '0', fraction] = text.split('.');
    const grouped = whole.length > 4 ? whole.replace(/\B(?=(\d{3})+$)/g, NARROW_SPACE) : whole;
    const isZero = Number(text) === 0;
    return `${value < 0 && !isZero ? MINUS : ''}${grouped}${fraction === undefined ? '' : words.decimalMark + fraction}`;
  };
  const decimalsFor = (value: number, digits: number) =>
    value === 0 ? 0 : Math.max(0, digits - 1 - Math.floor(Math.log10(Math.abs(value))));
  const significant = (value: number, digits: number) => {
    const rounded = Number(value.toPrecision(digits));
    return fixed(rounded, decimalsFor(rounded, digits));
  };
  // Below 10 000 a rate reads best as it is.
  const exponentFor = (value: number) => (value >= 1e4 ? Math.floor(Math.log10(value)) : 0);
  const timesTen = (exponent: number) =>
    exponent === 0 ? '' : `\u00a0×\u00a010${[...String(exponent)].map((d) => SUPERSCRIPTS[Number(d)]).join('')}`;
  const spread = (lower: number, upper: number, value: number) => {
    const exponent = exponentFor(value);
    const scale = 10 ** exponent;
    // Two digits of the narrower arm: more would claim what the interval denies.
    const arm = Math.max(1e-9, Math.min(value - lower || upper - lower, upper - value || upper - lower) / scale);
    const decimals = Math.min(3, decimalsFor(arm, 2));
    return { exponent, print: (x: number) => fixed(x / scale, decimals) };
  };
  return {
    fixed,
    integer: (value) => fixed(value, 0),
    significant,
    asGiven: (value, mostDigits) => {
      const rounded = Number(value.toPrecision(mostDigits));
      return fixed(
        rounded,
        String(rounded).includes('e') ? decimalsFor(rounded, mostDigits) : (String(rounded).split('.')[1]?.length ?? 0),
      );
    },
    percent: (share) => {
      const pct = 100 * share;
      const decimals = pct >= 99.95 || (pct < 99 && pct >= 10) || pct === 0 ? 0 : 1;
      // A probability is never rounded up to certainty or down to impossibility.
      if (share < 1 && share > 0 && Number(pct.toFixed(1)) >= 100) return `> ${fixed(99.9, 1)}\u00a0%`;
      if (share > 0 && pct < 0.1) return `< ${fixed(0.1, 1)}\u00a0%`;
      return `${fixed(pct, decimals)}\u00a0%`;
    },
    rate: ({ rateHz, interval }) => {
      const { exponent, print } = spread(interval.lower, interval.upper, rateHz);
      return `${print(rateHz)} (${print(interval.lower)} ${words.to} ${print(interval.upper)})${timesTen(exponent)}\u00a0${words.photonsPerSecond}`;
    },
    rateLines: ({ rateHz, interval }) => {
      const { exponent, print } = spread(interval.lower, interval.upper, rateHz);
      const power = `${timesTen(exponent)}\u00a0${words.photonsPerSecond}`;
      return `${print(rateHz)}${power}\n(${print(interval.lower)} ${words.to} ${print(interval.upper)})${power}`;
    },
    intervalLike: ({ rateHz, interval }, lower, upper) => {
      const { exponent, print } = spread(interval.lower, interval.upper, rateHz);
      const range = `${print(lower)} ${words.to} ${print(upper)}`;
      return `${exponent === 0 ? range : `(${range})`}${timesTen(exponent)}\u00a0${words.photonsPerSecond}`;
    },
    powerOfTen: (value, decimals) => {
      if (value === 0) return fixed(0, 0);
      // Rounded first, so that 9.6 × 10⁻⁹ to no decimals is 1 × 10⁻⁸ and not 10 × 10⁻⁹.
      const exponent = Number(value.toExponential(decimals).split('e')[1]);
      if (exponent >= -1 && exponent < 3) return significant(value, decimals + 1);
      const power = `${exponent < 0 ? '⁻' : ''}${[...String(Math.abs(exponent))].map((d) => SUPERSCRIPTS[Number(d)]).join('')}`;
      return `${fixed(value / 10 ** exponent, decimals)}\u00a0×\u00a010${power}`;
    },
    limit: (rateHz) => {
      const exponent = exponentFor(rateHz);
      return `${significant(rateHz / 10 ** exponent, 2)}${timesTen(exponent)}\u00a0${words.photonsPerSecond}`;
    },
  };
}
