import { TAI_MINUS_GPS_S, taiMinusUtcS } from './leapSeconds.ts';

export interface ClockSlip {
  readonly name: 'GPS and UTC mixed up' | 'TAI and UTC mixed up' | 'TAI and GPS mixed up';
  readonly offsetS: number;
  readonly todo: string;
}

/**
 * What an offset between two clocks is when it is exactly a difference of time scales: since 2017, 18 s between GPS and
 * UTC, 37 s between TAI and UTC, 19 s between TAI and GPS.
 * @param offsetS    measured, first clock minus second, s
 * @param toleranceS how well it is known; must be well below 0.5 s for a name to mean anything
 * @param unixS      when, s since 1970 UTC
 * @returns null where it is none of them
 */
export function clockSlip(offsetS: number, toleranceS: number, unixS: number): ClockSlip | null {
  if (!(toleranceS <= 0.25)) throw new RangeError('clockSlip: an offset known to more than 0.25 s names nothing');
  const taiUtc = taiMinusUtcS(unixS);
  const candidates: readonly (readonly [ClockSlip['name'], number, string])[] = [
    [
      'GPS and UTC mixed up',
      taiUtc - TAI_MINUS_GPS_S,
      'One stream is stamped in GPS time, the other in UTC: name its scale in the epoch.',
    ],
    [
      'TAI and UTC mixed up',
      taiUtc,
      'One stream is stamped in TAI (a PTP clock without its UTC offset), the other in UTC.',
    ],
    ['TAI and GPS mixed up', TAI_MINUS_GPS_S, 'One stream is stamped in TAI (PTP), the other in GPS time.'],
  ];
  for (const [name, size, todo] of candidates)
    if (Math.abs(Math.abs(offsetS) - size) <= toleranceS) return { name, offsetS: Math.sign(offsetS) * size, todo };
  return null;
}
