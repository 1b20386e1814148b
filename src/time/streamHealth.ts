export interface StreamGap {
  /** Row before the gap. */
  readonly afterRow: number;
  readonly fromNs: number;
  readonly toNs: number;
  readonly missing: number;
}

export interface StreamHealth {
  readonly count: number;
  readonly durationS: number;
  /** From the median interval; NaN for fewer than two stamps. */
  readonly measuredRateHz: number;
  /** Measured rate over nominal, minus 1. */
  readonly rateErrorRelative: number;
  readonly missing: number;
  /** In order of time. */
  readonly gaps: readonly StreamGap[];
  readonly largestGapNs: number;
  /** Of intervals against the whole number of periods that they span: root mean square and largest. */
  readonly jitterRmsNs: number;
  readonly jitterLargestNs: number;
  /** Rows whose stamp is the one before again, or earlier than the one before. */
  readonly repeatedRows: readonly number[];
  readonly backwardRows: readonly number[];
}

/**
 * What is wrong with the stamps of a stream. The period is the measured one where it agrees with the nominal to 2 %
 * (clocks differ), and the nominal one otherwise (half of the frames may be missing throughout).
 */
export function streamHealth(tNs: ArrayLike<number>, nominalRateHz: number): StreamHealth {
  if (!(nominalRateHz > 0)) throw new RangeError('streamHealth: the nominal rate must be above 0');
  const count = tNs.length;
  const intervals = new Float64Array(Math.max(0, count - 1));
  for (let i = 0; i < intervals.length; i++) intervals[i] = tNs[i + 1] - tNs[i];
  const sorted = intervals.slice().sort();
  const medianNs = sorted.length > 0 ? sorted[sorted.length >> 1] : Number.NaN;
  const nominalNs = 1e9 / nominalRateHz;
  const periodNs = Math.abs(medianNs / nominalNs - 1) < 0.02 ? medianNs : nominalNs;
  const gaps: StreamGap[] = [];
  const repeatedRows: number[] = [];
  const backwardRows: number[] = [];
  let missing = 0;
  let square = 0;
  let used = 0;
  let jitterLargestNs = 0;
  for (let i = 0; i < intervals.length; i++) {
    const interval = intervals[i];
    if (interval === 0) repeatedRows.push(i + 1);
    if (interval < 0) backwardRows.push(i + 1);
    if (interval <= 0) continue;
    const periods = Math.max(1, Math.round(interval / periodNs));
    const off = interval - periods * periodNs;
    square += off * off;
    used++;
    jitterLargestNs = Math.max(jitterLargestNs, Math.abs(off));
    if (periods > 1) {
      missing += periods - 1;
      gaps.push({ afterRow: i, fromNs: tNs[i], toNs: tNs[i + 1], missing: periods - 1 });
    }
  }
  return {
    count,
    durationS: count > 1 ? (tNs[count - 1] - tNs[0]) * 1e-9 : 0,
    measuredRateHz: 1e9 / medianNs,
    rateErrorRelative: nominalNs / medianNs - 1,
    missing,
    gaps,
    largestGapNs: sorted.length > 0 ? sorted[sorted.length - 1] : 0,
    jitterRmsNs: used > 0 ? Math.sqrt(square / used) : 0,
    jitterLargestNs,
    repeatedRows,
    backwardRows,
  };
}
