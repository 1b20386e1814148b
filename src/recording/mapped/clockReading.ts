import type { Epoch, TimeScale } from '../../time/Epoch.ts';
import type { Instant } from '../../time/Instant.ts';
import { TAI_MINUS_GPS_S, taiMinusUtcS } from '../../time/leapSeconds.ts';
import { stampFromInstant } from '../../time/utcFromStamp.ts';

/** What a clock shows, counted as if there were no leap seconds: seconds since 1970-01-01T00:00:00 on its own face. */
export interface ClockFace {
  readonly s: number;
  readonly ns: number;
}

/**
 * The instant at which a clock of the named scale shows a reading.
 * @param gpsMinusUtcS for UTC that a program made from GPS time with this difference: undone, and done again with the right one
 */
export function instantOfReading({ s, ns }: ClockFace, scale: TimeScale, gpsMinusUtcS: number | null): Instant {
  if (scale === 'TAI') return { taiS: s, ns };
  if (scale === 'GPS') return { taiS: s + TAI_MINUS_GPS_S, ns };
  if (gpsMinusUtcS !== null) return { taiS: s + gpsMinusUtcS + TAI_MINUS_GPS_S, ns };
  return { taiS: s + taiMinusUtcS(s), ns };
}

/** GPS - UTC of the table of leap seconds at a UTC reading. */
export const gpsMinusUtcAt = (s: number): number => taiMinusUtcS(s) - TAI_MINUS_GPS_S;

/** The stamp of a reading, nanoseconds since the flight's epoch. */
export const stampOf = (epoch: Epoch, face: ClockFace, scale: TimeScale, gpsMinusUtcS: number | null): number =>
  stampFromInstant(epoch, instantOfReading(face, scale, gpsMinusUtcS));

const GPS_BEGAN_S = Date.UTC(1980, 0, 6) / 1000;
export const WEEK_S = 604_800;

/** The face of a GPS clock at a week and seconds of the week; the week counted on without rolling over at 1024. */
export const faceOfGpsWeek = (week: number, { s, ns }: ClockFace): ClockFace => ({
  s: GPS_BEGAN_S + week * WEEK_S + s,
  ns,
});
