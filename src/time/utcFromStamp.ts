import type { Epoch } from './Epoch.ts';
import { type Instant, instantFromUtc, laterBy, utcFromInstant } from './Instant.ts';
import { taiMinusUtcS } from './leapSeconds.ts';

/**
 * A stamp of a recording as UTC, ISO 8601.
 * Exact to the nanosecond before rounding to `decimals` (0 to 9). On the UTC scale stamps count as computers do: a leap
 * second takes no time and is never named.
 */
export function utcFromStamp(epoch: Epoch, tNs: number, decimals = 3): string {
  const start = instantFromUtc(epoch.utc);
  if (epoch.scale !== 'UTC') return utcFromInstant(laterBy(start, tNs), decimals);
  const unix = laterBy({ taiS: start.taiS - offsetAtStart(start.taiS), ns: start.ns }, tNs);
  return utcFromInstant({ taiS: unix.taiS + taiMinusUtcS(unix.taiS), ns: unix.ns }, decimals);
}

/** The stamp, nanoseconds since the epoch, of a UTC instant. Exact where the result is below 2^53 (104 days). */
export const stampFromUtc = (epoch: Epoch, utc: string): number => stampFromInstant(epoch, instantFromUtc(utc));

/** The stamp, nanoseconds since the epoch, of an instant. Exact where the result is below 2^53 (104 days). */
export function stampFromInstant(epoch: Epoch, then: Instant): number {
  const start = instantFromUtc(epoch.utc);
  const leapt = epoch.scale === 'UTC' ? offsetAtStart(then.taiS) - offsetAtStart(start.taiS) : 0;
  return (then.taiS - start.taiS - leapt) * 1e9 + (then.ns - start.ns);
}

/** TAI - UTC at a TAI second. */
function offsetAtStart(taiS: number): number {
  // Two looks settle it: the offset at the instant taken as UTC is at most one step too new.
  return taiMinusUtcS(taiS - taiMinusUtcS(taiS));
}
