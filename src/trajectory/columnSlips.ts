import { DEG_PER_RAD, wrapDeg180 } from '../maths/angle.ts';
import type { Track } from './Track.ts';
import { finding, type TrackFinding, type TrackFindingName, wholeTrack } from './TrackFinding.ts';

/** What the aircraft did over about a second: by its positions, by its recorded speeds, and by its heading. */
interface Stretch {
  readonly movedM: readonly [east: number, north: number, up: number];
  readonly spokenM: readonly [east: number, north: number, up: number];
  readonly courseDeg: number;
  readonly heading: number;
  /** Change of latitude, and northward way by the recorded speeds: both in the axes of the place itself. */
  readonly northDeg: number;
  readonly spokenNorthM: number;
}

const STRETCH_NS = 1e9;
/** Fewer stretches than this prove nothing. */
const FEWEST = 5;

/**
 * Columns in the wrong unit, order or sign, recognised by setting columns against each other: speeds against positions,
 * turns of the heading against turns of the course.
 */
export function columnSlips(track: Track): TrackFinding[] {
  const stretches = stretchesOf(track);
  return [...speedSlips(track, stretches), ...angleSlips(track, stretches)];
}

function stretchesOf(track: Track): Stretch[] {
  const { tNs, positionEnuM: p, velocityEnuMps: v, table, count } = track;
  const stretches: Stretch[] = [];
  let from = 0;
  const spoken = [0, 0, 0];
  let spokenNorthM = 0;
  for (let i = 1; i < count; i++) {
    const stepS = (tNs[i] - tNs[i - 1]) * 1e-9;
    for (let k = 0; k < 3; k++) spoken[k] += ((v[3 * i + k] + v[3 * i - 3 + k]) / 2) * stepS;
    spokenNorthM += (table.velocityNedMps?.north[i] ?? 0) * stepS;
    if (tNs[i] - tNs[from] < STRETCH_NS) continue;
    // A stretch with a gap in it says nothing.
    if (tNs[i] - tNs[from] < 2.5 * Math.max(STRETCH_NS, track.periodNs)) {
      const movedM = [p[3 * i] - p[3 * from], p[3 * i + 1] - p[3 * from + 1], p[3 * i + 2] - p[3 * from + 2]] as const;
      stretches.push({
        movedM,
        spokenM: [spoken[0], spoken[1], spoken[2]],
        courseDeg: Math.atan2(movedM[0], movedM[1]) * DEG_PER_RAD,
        heading: table.headingDeg[(from + i) >> 1],
        northDeg: table.latDeg[i] - table.latDeg[from],
        spokenNorthM,
      });
    }
    spoken.fill(0);
    spokenNorthM = 0;
    from = i;
  }
  return stretches;
}

/** What to do to the recorded speeds (east, north) so that they become the true ones. */
const SPEED_SLIPS: readonly (readonly [TrackFindingName, (e: number, n: number) => readonly [number, number]])[] = [
  ['speeds look like knots', (e, n) => [e * 0.514444, n * 0.514444]],
  ['speeds look like km/h', (e, n) => [e / 3.6, n / 3.6]],
  ['speeds look like feet per second', (e, n) => [e * 0.3048, n * 0.3048]],
  ['north and east speeds look swapped', (e, n) => [n, e]],
];

function speedSlips(track: Track, stretches: readonly Stretch[]): TrackFinding[] {
  if (!track.velocityRecorded) return [];
  const found: TrackFinding[] = [];
  const moving = stretches.filter((s) => Math.hypot(s.spokenM[0], s.spokenM[1]) > 1);
  if (moving.length >= FEWEST) {
    const offM = (mend: (e: number, n: number) => readonly [number, number]) =>
      median(
        moving.map((s) => {
          const [e, n] = mend(s.spokenM[0], s.spokenM[1]);
          return Math.hypot(s.movedM[0] - e, s.movedM[1] - n);
        }),
      );
    const asGivenM = offM((e, n) => [e, n]);
    const spokenM = median(moving.map((s) => Math.hypot(s.spokenM[0], s.spokenM[1])));
    if (asGivenM > 0.15 * spokenM) found.push(nameOf(track, moving, asGivenM, spokenM, offM));
  }
  const climbing = stretches.filter((s) => Math.abs(s.spokenM[2]) > 0.3);
  const along = climbing.reduce((sum, s) => sum + s.movedM[2] * s.spokenM[2], 0);
  const square = climbing.reduce((sum, s) => sum + s.spokenM[2] ** 2, 0);
  if (climbing.length >= FEWEST && along / square < -0.5) {
    const text = 'heights rise where v_down_mps is positive; give it positive downwards';
    found.push(finding(track, 'vertical speed looks upside down', 'fault', wholeTrack(track), text));
  }
  return found;
}

function nameOf(
  track: Track,
  moving: readonly Stretch[],
  asGivenM: number,
  spokenM: number,
  offM: (mend: (e: number, n: number) => readonly [number, number]) => number,
): TrackFinding {
  const plain = `positions and speeds differ by ${asGivenM.toFixed(1)} m a second at ${spokenM.toFixed(1)} m/s`;
  const { latDeg, lonDeg } = track.table;
  // A degree of latitude is 111 km everywhere to 1 %. Eastings would depend on a latitude that is itself misread.
  const northRatio =
    moving.reduce((sum, s) => sum + 111_130 * s.northDeg * s.spokenNorthM, 0) /
    moving.reduce((sum, s) => sum + s.spokenNorthM ** 2, 0);
  if (
    Math.abs(northRatio * DEG_PER_RAD - 1) < 0.05 &&
    latDeg.every((x) => Math.abs(x) <= Math.PI / 2) &&
    lonDeg.every((x) => Math.abs(x) <= Math.PI)
  )
    return finding(
      track,
      'positions look like radians',
      'fault',
      wholeTrack(track),
      `${plain}: the positions are 57.3 times too near`,
    );
  const [name, off] = SPEED_SLIPS.map(([slip, mend]) => [slip, offM(mend)] as const).reduce((a, b) =>
    b[1] < a[1] ? b : a,
  );
  if (off < 0.2 * asGivenM)
    return finding(track, name, 'fault', wholeTrack(track), `${plain}, and by ${off.toFixed(2)} m so read`);
  return finding(track, 'speeds disagree with positions', 'warning', wholeTrack(track), plain);
}

/**
 * Radians given for degrees: every angle within one turn of radians, and the heading turns with the course only when
 * read as radians. An aircraft that flies sideways or keeps its nose turns with nothing, and is not accused.
 */
function angleSlips(track: Track, stretches: readonly Stretch[]): TrackFinding[] {
  const { rollDeg, pitchDeg, headingDeg } = track.table;
  const turn = 2 * Math.PI + 1e-6;
  if (![rollDeg, pitchDeg, headingDeg].every((column) => column.every((x) => Math.abs(x) <= turn))) return [];
  let asDegrees = 0;
  let asRadians = 0;
  let turned = 0;
  for (let i = 1; i < stretches.length; i++) {
    const [a, b] = [stretches[i - 1], stretches[i]];
    if (Math.min(Math.hypot(a.movedM[0], a.movedM[1]), Math.hypot(b.movedM[0], b.movedM[1])) < 2) continue;
    const course = wrapDeg180(b.courseDeg - a.courseDeg);
    turned += Math.abs(course);
    asDegrees += Math.abs(wrapDeg180(course - (b.heading - a.heading)));
    asRadians += Math.abs(wrapDeg180(course - (b.heading - a.heading) * DEG_PER_RAD));
  }
  if (turned < 30 || asRadians > 0.5 * asDegrees) return [];
  const text = `roll, pitch and heading stay within ±2π while the course turns by ${turned.toFixed(0)}°`;
  return [finding(track, 'angles look like radians', 'fault', wholeTrack(track), text)];
}

const median = (values: number[]): number => values.sort((a, b) => a - b)[values.length >> 1];
