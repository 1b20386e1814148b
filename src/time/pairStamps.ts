export interface StampPairs {
  /** For each stamp of the first series the row of its partner in the second, or -1. */
  readonly partner: Int32Array;
  readonly pairs: number;
  readonly unpairedFirst: number;
  readonly unpairedSecond: number;
  /** Second minus first over all pairs, ns; NaN without pairs. */
  readonly meanGapNs: number;
  readonly largestGapNs: number;
}

/**
 * Pairs two series of stamps (rising; middles of exposures) one to one: each with the nearest of the other, where both
 * choose each other and lie within the tolerance.
 */
export function pairStamps(firstNs: ArrayLike<number>, secondNs: ArrayLike<number>, toleranceNs: number): StampPairs {
  const n = firstNs.length;
  const m = secondNs.length;
  const partner = new Int32Array(n).fill(-1);
  let pairs = 0;
  let sum = 0;
  let largestGapNs = n > 0 && m > 0 ? 0 : Number.NaN;
  const nearest = (series: ArrayLike<number>, tNs: number, from: number): number => {
    let i = from;
    while (i + 1 < series.length && series[i + 1] <= tNs) i++;
    if (i + 1 < series.length && series[i + 1] - tNs < Math.abs(series[i] - tNs)) i++;
    return i;
  };
  let j = 0;
  let back = 0;
  for (let i = 0; i < n && m > 0; i++) {
    // One row back: the last search may have stepped past the stamp to the nearer one after it.
    j = nearest(secondNs, firstNs[i], Math.max(0, j - 1));
    back = nearest(firstNs, secondNs[j], Math.max(0, Math.min(back, i) - 1));
    const gap = secondNs[j] - firstNs[i];
    if (back !== i || Math.abs(gap) > toleranceNs) continue;
    partner[i] = j;
    pairs++;
    sum += gap;
    largestGapNs = Math.max(largestGapNs, Math.abs(gap));
  }
  return {
    partner,
    pairs,
    unpairedFirst: n - pairs,
    unpairedSecond: m - pairs,
    meanGapNs: pairs > 0 ? sum / pairs : Number.NaN,
    largestGapNs: pairs > 0 ? largestGapNs : Number.NaN,
  };
}
