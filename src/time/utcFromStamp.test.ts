import fc from 'fast-check';
import { expect, test } from 'vitest';
import { gpsWeekOf, instantFromUtc, utcFromInstant } from './Instant.ts';
import { stampFromUtc, utcFromStamp } from './utcFromStamp.ts';

test('2024 began at PTP second 1704067237 and in GPS week 2295, second 86418', () => {
  // astropy 5.2.1.
  const start = instantFromUtc('2024-01-01T00:00:00Z');
  expect(start).toEqual({ taiS: 1704067237, ns: 0 });
  expect(gpsWeekOf(start)).toEqual({ week: 2295, secondS: 86418 });
});

test('the leap second at the end of 2016 has a second of its own, GPS 1167264017', () => {
  // astropy 5.2.1; the GPS count starts at 1980-01-06.
  const { week, secondS } = gpsWeekOf(instantFromUtc('2016-12-31T23:59:60Z'));
  expect(week * 604800 + secondS).toBe(1167264017);
  const epoch = (scale: 'UTC' | 'TAI' | 'GPS') => ({ utc: '2016-12-31T23:59:59Z', scale });
  expect(utcFromStamp(epoch('TAI'), 1.5e9)).toBe('2016-12-31T23:59:60.500Z');
  expect(utcFromStamp(epoch('GPS'), 2e9)).toBe('2017-01-01T00:00:00.000Z');
  expect(utcFromStamp(epoch('UTC'), 1.5e9)).toBe('2017-01-01T00:00:00.500Z');
  expect(stampFromUtc(epoch('TAI'), '2017-01-01T00:00:00Z')).toBe(2e9);
  expect(stampFromUtc(epoch('UTC'), '2017-01-01T00:00:00Z')).toBe(1e9);
});

test('a stamp shows as UTC with the decimals asked for, rounded', () => {
  const epoch = { utc: '2026-05-12T06:30:00.25Z', scale: 'UTC' } as const;
  expect(utcFromStamp(epoch, 0)).toBe('2026-05-12T06:30:00.250Z');
  expect(utcFromStamp(epoch, 12_345_678, 6)).toBe('2026-05-12T06:30:00.262346Z');
  expect(utcFromStamp(epoch, 749_600_000)).toBe('2026-05-12T06:30:01.000Z');
  expect(utcFromStamp(epoch, -500_000_000, 0)).toBe('2026-05-12T06:30:00Z');
});

test('what is no instant, or never was, is refused', () => {
  for (const utc of [
    '2026-05-12 06:30:00Z',
    '2026-02-30T00:00:00Z',
    '2025-06-30T23:59:60Z',
    '2026-05-12T24:01:00Z',
    '2026-05-12T06:30:00',
  ])
    expect(() => instantFromUtc(utc)).toThrow(RangeError);
});

test.each(['UTC', 'TAI', 'GPS'] as const)('on the scale %s a stamp is what its UTC says it is', (scale) => {
  // Epochs whose flights straddle a leap second (end of June 2015) as well as ordinary ones.
  fc.assert(
    fc.property(
      fc.constantFrom('2015-06-30T22:10:00.125Z', '2026-05-12T06:30:00Z', '1999-12-31T23:59:59.999999999Z'),
      fc.integer({ min: -3_600_000_000_000, max: 14_400_000_000_000 }),
      (utc, tNs) => {
        const epoch = { utc, scale };
        expect(stampFromUtc(epoch, utcFromStamp(epoch, tNs, 9))).toBe(tNs);
      },
    ),
    { seed: 37, numRuns: 300 },
  );
});

test('an instant read and written is the same text', () => {
  for (const utc of [
    '2015-06-30T23:59:60.000Z',
    '2015-07-01T00:00:00.000Z',
    '1972-01-01T00:00:00.000Z',
    '2031-02-03T04:05:06.789Z',
  ])
    expect(utcFromInstant(instantFromUtc(utc), 3)).toBe(utc);
});
