import type { StreamsAnswer } from './api/flights.ts';

type Binned = StreamsAnswer['uv']['gain'];

/** Equal bins of time between two instants. */
export interface TimeBins {
  readonly fromNs: number;
  readonly toNs: number;
  readonly count: number;
}

export const binOf = ({ fromNs, toNs, count }: TimeBins, tNs: number): number =>
  Math.min(count - 1, Math.floor(((tNs - fromNs) / (toNs - fromNs)) * count));

/** Mean, least and most of a series in each bin; null where a bin has no value. NaN values are left out. */
export function binSeries(bins: TimeBins, tNs: ArrayLike<number>, value: (row: number) => number): Binned {
  const sum = new Float64Array(bins.count);
  const n = new Int32Array(bins.count);
  const least = new Float64Array(bins.count).fill(Number.POSITIVE_INFINITY);
  const most = new Float64Array(bins.count).fill(Number.NEGATIVE_INFINITY);
  for (let row = firstAt(tNs, bins.fromNs); row < tNs.length && tNs[row] <= bins.toNs; row++) {
    const x = value(row);
    if (Number.isNaN(x)) continue;
    const bin = binOf(bins, tNs[row]);
    sum[bin] += x;
    n[bin]++;
    if (x < least[bin]) least[bin] = x;
    if (x > most[bin]) most[bin] = x;
  }
  const shown = (values: Float64Array): (number | null)[] =>
    Array.from(values, (x, bin) => (n[bin] === 0 ? null : Number(x.toPrecision(9))));
  return { mean: shown(sum.map((x, bin) => x / n[bin])), least: shown(least), most: shown(most) };
}

/** How many stamps lie in each bin. */
export function binCounts(
  bins: TimeBins,
  tNs: ArrayLike<number>,
  counts: (row: number) => boolean = () => true,
): number[] {
  const n = new Array<number>(bins.count).fill(0);
  for (let row = firstAt(tNs, bins.fromNs); row < tNs.length && tNs[row] <= bins.toNs; row++)
    if (counts(row)) n[binOf(bins, tNs[row])]++;
  return n;
}

/** The first row at or after a time; stamps rise. */
function firstAt(tNs: ArrayLike<number>, fromNs: number): number {
  let [low, high] = [0, tNs.length];
  while (low < high) {
    const middle = (low + high) >> 1;
    if (tNs[middle] < fromNs) low = middle + 1;
    else high = middle;
  }
  return low;
}
