import { quantile } from '../maths/sampleStatistics.ts';
import type { NamedMarks } from './pairByTime.ts';
import { type StreamClock, searchClockOffset } from './streamClock.ts';

/**
 * Offset and drift from the first offsets of the single sweeps: for clocks that run apart so fast that no one offset serves a whole
 * run. The drift is the median of the slopes between sweeps, so that one sweep led astray does not matter (Theil 1950, Sen, JASA 63
 * (1968) 1379, from memory).
 * @returns null with fewer than three sweeps, where one wrong offset would make any drift
 */
export function clockBySweeps(
  lamps: readonly NamedMarks[],
  discs: readonly NamedMarks[],
  uvIntervalNs: number,
): Pick<StreamClock, 'offsetMs' | 'driftPpm' | 'aboutNs'> | null {
  const points = [...new Set(discs.map(({ sweep }) => sweep))].flatMap((sweep) => {
    const own = discs.filter((frame) => frame.sweep === sweep);
    const found = searchClockOffset(lamps, own, uvIntervalNs);
    // Nothing found is an offset too small to see.
    return own.length === 0 ? [] : [{ tNs: (own[0].tNs + own[own.length - 1].tNs) / 2, ms: found?.offsetMs ?? 0 }];
  });
  if (points.length < 3) return null;
  const slopes = points.flatMap((a, i) => points.slice(i + 1).map((b) => ((b.ms - a.ms) / (b.tNs - a.tNs)) * 1e12));
  const driftPpm = quantile(slopes, 0.5);
  const aboutNs = points[0].tNs;
  const offsetMs = quantile(
    points.map(({ tNs, ms }) => ms - driftPpm * 1e-12 * (tNs - aboutNs)),
    0.5,
  );
  return { offsetMs, driftPpm, aboutNs };
}
