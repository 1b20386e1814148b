import type { Track } from './Track.ts';
import { finding, type TrackFinding } from './TrackFinding.ts';

/** Below this a step is not worth a word, whatever the noise says. */
const SMALLEST_JUMP_M = 0.25;
/** The hardest that a survey aircraft changes its speed, m/s2, on the generous side. */
const HARDEST_MPS2 = 15;

/**
 * Steps between rows that the speed does not explain: against the recorded velocities, or else against the middle one of
 * the five nearest speeds.
 */
export function jumps(track: Track): TrackFinding[] {
  const n = track.count - 1;
  const offM = new Float64Array(n);
  for (let i = 0; i < n; i++) offM[i] = unexplainedM(track, i);
  const usualM = 1.4826 * offM.slice().sort()[n >> 1];
  const found: TrackFinding[] = [];
  const limitM = (i: number) => {
    const lengthS = (track.tNs[i + 1] - track.tNs[i]) * 1e-9;
    return Math.max(SMALLEST_JUMP_M, 8 * usualM, 6 * Math.SQRT2 * sigmaM(track, i)) + (HARDEST_MPS2 / 4) * lengthS ** 2;
  };
  for (let i = 0; i < n; i++) {
    if (!(offM[i] > limitM(i))) continue;
    const from = i;
    let worstM = offM[i];
    while (i + 1 < n && offM[i + 1] > limitM(i + 1)) worstM = Math.max(worstM, offM[++i]);
    found.push(
      finding(track, 'jump', 'warning', [from, i + 1], `${worstM.toFixed(2)} m that the speed does not explain`),
    );
  }
  return found;
}

function sigmaM(track: Track, i: number): number {
  const s = track.table.sigma;
  if (s) return Math.max(s.northM[i], s.eastM[i], s.downM[i]);
  return Math.max(track.assumedSigma?.northM ?? 0, track.assumedSigma?.eastM ?? 0, track.assumedSigma?.downM ?? 0);
}

function unexplainedM(track: Track, i: number): number {
  const { tNs, positionEnuM: p, velocityEnuMps: v } = track;
  const lengthS = (tNs[i + 1] - tNs[i]) * 1e-9;
  let square = 0;
  for (let k = 0; k < 3; k++) {
    const speed = track.velocityRecorded ? (v[3 * i + k] + v[3 * i + 3 + k]) / 2 : middleSpeed(track, i, k);
    square += (p[3 * i + 3 + k] - p[3 * i + k] - speed * lengthS) ** 2;
  }
  return Math.sqrt(square);
}

function middleSpeed({ tNs, positionEnuM: p, count }: Track, i: number, k: number): number {
  const first = Math.max(0, Math.min(i - 2, count - 6));
  const speeds: number[] = [];
  for (let j = first; j < Math.min(first + 5, count - 1); j++)
    speeds.push((p[3 * j + 3 + k] - p[3 * j + k]) / ((tNs[j + 1] - tNs[j]) * 1e-9));
  return speeds.sort((a, b) => a - b)[speeds.length >> 1];
}
