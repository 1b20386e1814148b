import { RAD_PER_DEG } from '../maths/angle.ts';
import type { Track } from './Track.ts';
import { finding, type TrackFinding, wholeTrack } from './TrackFinding.ts';

/** Longer than this the receiver or the unit stood still; shorter ones are a logger that writes faster than it is fed. */
const STUCK_NS = 2e8;

/**
 * Rows that repeat the position of the row before to the last digit although the aircraft moved farther than the
 * columns' resolution meanwhile. Long runs are named one by one, short ones together.
 */
export function repeatedRows(track: Track): TrackFinding[] {
  const { latDeg, lonDeg, heightM } = track.table;
  const same = (i: number) =>
    latDeg[i] === latDeg[i - 1] && lonDeg[i] === lonDeg[i - 1] && heightM[i] === heightM[i - 1];
  const resolutionM = resolutionOfColumnsM(track);
  const found: TrackFinding[] = [];
  let short = 0;
  let first = -1;
  for (let i = 1; i < track.count; i++) {
    if (!same(i)) continue;
    const from = i - 1;
    while (i + 1 < track.count && same(i + 1)) i++;
    const lengthNs = track.tNs[i] - track.tNs[from];
    const movedM = speedAround(track, from, i) * lengthNs * 1e-9;
    if (!(movedM > 3 * resolutionM)) continue;
    if (lengthNs >= STUCK_NS) {
      const text = `one position for ${(lengthNs / 1e9).toFixed(2)} s and ${i - from + 1} rows, while flying ${movedM.toFixed(1)} m`;
      found.push(finding(track, 'stuck', 'warning', [from, i], text));
    } else {
      short += i - from;
      if (first < 0) first = from;
    }
  }
  if (short > 0) {
    const share = ((100 * short) / track.count).toFixed(1);
    const text = `${short} rows (${share} %) repeat the position before; the first is row ${first + 1}`;
    found.push(finding(track, 'repeated rows', 'warning', wholeTrack(track), text));
  }
  return found;
}

/** The last digit of the coarser of the two columns, metres, or less: the smallest gap between two different values. */
function resolutionOfColumnsM({ table: { latDeg, lonDeg } }: Track): number {
  const smallestGapDeg = (column: Float64Array) => {
    const sorted = column.slice().sort();
    let smallest = Number.POSITIVE_INFINITY;
    for (let i = 1; i < sorted.length; i++)
      if (sorted[i] > sorted[i - 1]) smallest = Math.min(smallest, sorted[i] - sorted[i - 1]);
    return Number.isFinite(smallest) ? smallest : 0;
  };
  return 111_000 * Math.max(smallestGapDeg(latDeg), smallestGapDeg(lonDeg) * Math.cos(latDeg[0] * RAD_PER_DEG));
}

/** From the recorded velocities inside the run, or else from where the aircraft was half a second before and after it. */
function speedAround(track: Track, from: number, to: number): number {
  const { velocityEnuMps: v, positionEnuM: p, tNs, count } = track;
  if (track.velocityRecorded) return Math.hypot(v[3 * from], v[3 * from + 1], v[3 * from + 2]);
  let a = from;
  let b = to;
  while (a > 0 && tNs[from] - tNs[a] < 5e8) a--;
  while (b < count - 1 && tNs[b] - tNs[to] < 5e8) b++;
  const m = Math.hypot(p[3 * b] - p[3 * a], p[3 * b + 1] - p[3 * a + 1], p[3 * b + 2] - p[3 * a + 2]);
  return m / ((tNs[b] - tNs[a]) * 1e-9);
}
