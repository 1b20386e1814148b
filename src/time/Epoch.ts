export type TimeScale = 'UTC' | 'TAI' | 'GPS';

/**
 * The instant at which the stamps of a recording are 0, always written as UTC, and the scale that the stamps count in.
 * The scale matters only across a leap second: TAI and GPS count it, UTC (as computers keep it) does not.
 */
export interface Epoch {
  readonly utc: string;
  readonly scale: TimeScale;
}
