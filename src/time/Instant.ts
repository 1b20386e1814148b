import { LEAP_STEPS, TAI_MINUS_GPS_S, taiMinusUtcS } from './leapSeconds.ts';

/** A point of time without ambiguity: whole TAI seconds since 1970-01-01T00:00:00 TAI, and nanoseconds 0 to 999,999,999. */
export interface Instant {
  readonly taiS: number;
  readonly ns: number;
}

const UTC = /^(\d{4})-(\d{2})-(\d{2})T(\d{2}):(\d{2}):(\d{2})(?:\.(\d{1,9})\d*)?Z$/;

/**
 * Reads a UTC instant such as 2026-05-12T06:30:00.25Z, a leap second (23:59:60) included.
 * Digits beyond the nanosecond are cut. Throws RangeError for what is no such instant.
 */
export function instantFromUtc(utc: string): Instant {
  const parts = UTC.exec(utc);
  if (!parts) throw new RangeError(`"${utc}" is no UTC instant such as 2026-05-12T06:30:00Z`);
  const [year, month, day, hour, minute, second] = parts.slice(1, 7).map(Number);
  const ns = Number((parts[7] ?? '').padEnd(9, '0'));
  const leap = second === 60;
  const unixS = Date.UTC(year, month - 1, day, hour, minute, leap ? 59 : second) / 1000;
  const back = new Date(unixS * 1000);
  const exists =
    back.getUTCMonth() === month - 1 && back.getUTCDate() === day && hour < 24 && minute < 60 && second <= 60;
  if (!exists || (leap && !LEAP_STEPS.some((step) => step.unixS === unixS + 1)))
    throw new RangeError(`"${utc}" does not exist`);
  return { taiS: unixS + taiMinusUtcS(unixS) + (leap ? 1 : 0), ns };
}

/** @param decimals 0 to 9; the rest is rounded, so that 0.9996 s shows as the next second with three decimals */
export function utcFromInstant({ taiS, ns }: Instant, decimals: number): string {
  const grain = 10 ** (9 - decimals);
  const grains = Math.round(ns / grain);
  const perSecond = 10 ** decimals;
  const carried = grains >= perSecond ? 1 : 0;
  const fraction = decimals === 0 ? '' : `.${String(grains - carried * perSecond).padStart(decimals, '0')}`;
  const whole = taiS + carried;
  // The last step at or before this TAI second; its own first TAI second follows the leap second itself.
  const step = LEAP_STEPS.findLast((s) => whole >= s.unixS + s.taiMinusUtcS - 1);
  if (!step) throw new RangeError('utcFromInstant: UTC has whole leap seconds only since 1972');
  const first = step.unixS + step.taiMinusUtcS;
  if (whole === first - 1 && step !== LEAP_STEPS[0]) {
    const before = new Date((step.unixS - 1) * 1000).toISOString();
    return `${before.slice(0, 17)}60${fraction}Z`;
  }
  return `${new Date((whole - step.taiMinusUtcS) * 1000).toISOString().slice(0, 19)}${fraction}Z`;
}

/** The instant `deltaNs` (a whole number, of either sign) later, by a clock that never leaps. */
export function laterBy({ taiS, ns }: Instant, deltaNs: number): Instant {
  const seconds = Math.floor(deltaNs / 1e9);
  const rest = ns + (deltaNs - seconds * 1e9);
  const carry = Math.floor(rest / 1e9);
  return { taiS: taiS + seconds + carry, ns: rest - carry * 1e9 };
}

/** GPS week (not rolled over) and seconds of the week; the form that receivers log. */
export function gpsWeekOf({ taiS, ns }: Instant): { week: number; secondS: number } {
  const gpsS = taiS - TAI_MINUS_GPS_S - Date.UTC(1980, 0, 6) / 1000;
  const week = Math.floor(gpsS / 604800);
  return { week, secondS: gpsS - week * 604800 + ns * 1e-9 };
}
