import { columnSlips } from './columnSlips.ts';
import { jumps } from './jumps.ts';
import { repeatedRows } from './repeatedRows.ts';
import type { Track } from './Track.ts';
import { finding, type TrackFinding, wholeTrack } from './TrackFinding.ts';

/** A stretch whose standard deviation is so many times the median is named: the receiver lost its fixed solution. */
const POOR_RATIO = 4;

/**
 * What is odd about a trajectory, by name, in order of time. Nothing is mended here: a finding is shown, and the reader
 * of the file or the surveyor decides. Cannot see a constant offset of heights or of the clock; those need the line or
 * the images (heightSlip, clockSlip).
 */
export function trackFindings(track: Track): TrackFinding[] {
  const found = [
    ...gaps(track),
    ...jumps(track),
    ...repeatedRows(track),
    ...fixChanges(track),
    ...assumptions(track),
    ...statedAccuracy(track),
    ...stillAttitude(track),
    ...columnSlips(track),
  ];
  return found.sort((a, b) => a.fromRow - b.fromRow || (a.name < b.name ? -1 : 1));
}

function gaps(track: Track): TrackFinding[] {
  const found: TrackFinding[] = [];
  for (let i = 1; i < track.count; i++) {
    const lengthNs = track.tNs[i] - track.tNs[i - 1];
    if (lengthNs <= Math.max(3 * track.periodNs, Math.min(track.longestBridgeNs, 1e8))) continue;
    const bridged = lengthNs <= track.longestBridgeNs;
    const outcome = bridged ? 'bridged, with a covariance that grows' : 'no poses inside';
    found.push(
      finding(
        track,
        'gap',
        bridged ? 'note' : 'warning',
        [i - 1, i],
        `${(lengthNs / 1e9).toFixed(3)} s without a row; ${outcome}`,
      ),
    );
  }
  return found;
}

/** Solutions from the best to the worst, as receivers name them; what is not among them stands below. */
const FIXES = ['fixed', 'differential', 'float', 'augmented', 'autonomous', 'dead reckoning'];

/** Stretches in which the receiver says of its solution something else than for most of the flight. */
function fixChanges(track: Track): TrackFinding[] {
  const { fix } = track.table;
  if (!fix) return [];
  const counts = new Map<string, number>();
  for (const each of fix) counts.set(each, (counts.get(each) ?? 0) + 1);
  const rank = (name: string) => (FIXES.includes(name) ? FIXES.indexOf(name) : FIXES.length);
  // The best that is held for a twentieth of the flight: a receiver that was fixed for a moment did not fly fixed.
  const held = [...counts].filter(([, n]) => n >= fix.length / 20).map(([name]) => name);
  const usual = held.reduce((a, b) => (rank(b) < rank(a) ? b : a), held[0] ?? fix[0]);
  const found: TrackFinding[] = [];
  for (let i = 0; i < fix.length; i++) {
    if (rank(fix[i]) <= rank(usual)) continue;
    const from = i;
    while (i + 1 < fix.length && fix[i + 1] === fix[from]) i++;
    const lengthS = (track.tNs[i] - track.tNs[from]) * 1e-9;
    const text = `the receiver says "${fix[from]}" for ${lengthS.toFixed(1)} s, "${usual}" elsewhere`;
    found.push(finding(track, 'weaker fix', lengthS > 1 ? 'warning' : 'note', [from, i], text));
  }
  return found;
}

/** What the reader of a file of another maker took for granted or left out. */
function assumptions(track: Track): TrackFinding[] {
  return (track.table.notes ?? []).map((text) =>
    finding(
      track,
      'read with assumptions',
      text.startsWith('No attitude') ? 'fault' : 'note',
      wholeTrack(track),
      text.replace(/\.$/, ''),
    ),
  );
}

function statedAccuracy(track: Track): TrackFinding[] {
  const s = track.table.sigma;
  if (!s) {
    const a = track.assumedSigma;
    const text = `assumed: ${a?.northM} m level, ${a?.downM} m upright, ${a?.rollDeg}° roll and pitch, ${a?.headingDeg}° heading`;
    return [finding(track, 'no standard deviations', 'warning', wholeTrack(track), text)];
  }
  const found: TrackFinding[] = [];
  for (const [column, values] of Object.entries(s)) {
    const zero = values.findIndex((x) => !(x > 0));
    if (zero >= 0)
      found.push(
        finding(
          track,
          'standard deviations of zero',
          'fault',
          [zero, zero],
          `${column} is ${values[zero]}; no instrument is perfect`,
        ),
      );
  }
  const levelM = Float64Array.from(s.northM, (x, i) => Math.hypot(x, s.eastM[i], s.downM[i]));
  const usualM = levelM.slice().sort()[levelM.length >> 1];
  for (let i = 0; i < levelM.length; i++) {
    if (!(levelM[i] > POOR_RATIO * usualM)) continue;
    const from = i;
    let worstM = levelM[i];
    while (i + 1 < levelM.length && levelM[i + 1] > POOR_RATIO * usualM) worstM = Math.max(worstM, levelM[++i]);
    const text = `position good to ${worstM.toFixed(2)} m at worst, ${usualM.toFixed(2)} m elsewhere`;
    found.push(finding(track, 'poor stretch', 'warning', [from, i], text));
  }
  return found;
}

/** Real attitudes are never equal to the last digit for a whole flight; a column of zeros is one that was not recorded. */
function stillAttitude(track: Track): TrackFinding[] {
  const { rollDeg, pitchDeg, headingDeg } = track.table;
  const still = [rollDeg, pitchDeg, headingDeg].every((column) => column.every((x) => x === column[0]));
  if (!still || track.tNs[track.count - 1] - track.tNs[0] < 2e9) return [];
  const text = `roll ${rollDeg[0]}°, pitch ${pitchDeg[0]}°, heading ${headingDeg[0]}° in every row`;
  return [finding(track, 'attitude never changes', 'fault', wholeTrack(track), text)];
}
