/**
 * From these days on (0h UTC), TAI - UTC is so many seconds. Before 1972 the two ran at different rates.
 * Source: IERS leap second list, valid to LEAP_SECONDS_KNOWN_UNTIL.
 */
const STEPS: readonly (readonly [day: string, taiMinusUtcS: number])[] = [
  ['1972-01-01', 10],
  ['1972-07-01', 11],
  ['1973-01-01', 12],
  ['1974-01-01', 13],
  ['1975-01-01', 14],
  ['1976-01-01', 15],
  ['1977-01-01', 16],
  ['1978-01-01', 17],
  ['1979-01-01', 18],
  ['1980-01-01', 19],
  ['1981-07-01', 20],
  ['1982-07-01', 21],
  ['1983-07-01', 22],
  ['1985-07-01', 23],
  ['1988-01-01', 24],
  ['1990-01-01', 25],
  ['1991-01-01', 26],
  ['1992-07-01', 27],
  ['1993-07-01', 28],
  ['1994-07-01', 29],
  ['1996-01-01', 30],
  ['1997-07-01', 31],
  ['1999-01-01', 32],
  ['2006-01-01', 33],
  ['2009-01-01', 34],
  ['2012-07-01', 35],
  ['2015-07-01', 36],
  ['2017-01-01', 37],
];

/** Later instants are computed with the last step; a leap second announced since then would be missing. */
export const LEAP_SECONDS_KNOWN_UNTIL = '2026-06-28';

export interface LeapStep {
  /** First second of the new offset, UTC counted as computers do (86400 a day) since 1970. */
  readonly unixS: number;
  readonly taiMinusUtcS: number;
}
export const LEAP_STEPS: readonly LeapStep[] = STEPS.map(([day, taiMinusUtcS]) => ({
  unixS: Date.parse(`${day}T00:00:00Z`) / 1000,
  taiMinusUtcS,
}));

/** TAI - GPS, fixed since GPS time began. */
export const TAI_MINUS_GPS_S = 19;

/** TAI - UTC at a UTC second counted as computers do. Throws before 1972. */
export function taiMinusUtcS(unixS: number): number {
  for (let i = LEAP_STEPS.length - 1; i >= 0; i--) if (unixS >= LEAP_STEPS[i].unixS) return LEAP_STEPS[i].taiMinusUtcS;
  throw new RangeError('taiMinusUtcS: UTC has whole leap seconds only since 1972');
}
