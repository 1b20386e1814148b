import { datumShiftsAt } from '../earth/datumShift.ts';
import { egm96UndulationM } from '../earth/geoid.ts';
import { multiplyVec, transpose } from '../maths/mat3.ts';
import { add, subtract, type Vec3 } from '../maths/vec3.ts';
import { clockSlip } from '../time/clockSlip.ts';
import { interpolatePose } from '../trajectory/interpolatePose.ts';
import type { Track } from '../trajectory/Track.ts';
import { componentsNear, indexLine, type LineIndex } from './LineIndex.ts';
import type { LineModel } from './LineModel.ts';

/** A strong source as it was placed without regard to the line, and when it was seen. */
export interface PlacedSource {
  readonly placeEnuM: Vec3;
  readonly tNs: number;
}

export interface SourceFinding {
  readonly name:
    | 'heights of the flight look like heights above the sea'
    | 'heights of the line look like heights above the sea'
    | 'heights of the flight look like feet'
    | 'GPS and UTC mixed up'
    | 'TAI and UTC mixed up'
    | 'TAI and GPS mixed up'
    | 'clock of the trajectory off'
    | 'flight and line look on different datums'
    | 'flight and line apart'
    | 'heights of flight and line apart'
    | 'sources off the line';
  readonly weight: 'warning' | 'fault';
  readonly detail: string;
}

/** Strong discharges sit on hardware far more often than anywhere along a wire; how near counts as on it. */
const ON_HARDWARE_M = 1.2;
const ON_WIRE_M = 1.5;
const WIRE_SCORE = 0.3;
/** What a shift must gain over no shift: one source off the line brought onto hardware, and a little more. */
const LEAST_GAIN = 0.9;
/** A shift is told where no other one, farther off than this, explains nearly as much. */
const OTHER_EXPLAINS = 0.75;
const FAR_TIME_S = 1.5;
const FAR_HEIGHT_M = 6;
const REACH_S = 45;
const STEP_S = 0.05;
const REACH_M = 130;
const FARTHEST_DATUM_M = 900;
const DATUM_WITHIN_M = 25;
/** EGM96 against a national geoid half a metre, and what counts as on the hardware. */
const GEOID_WITHIN_M = 2;
const STEP_M = 0.4;
/** A name needs more than one witness to be a fault. */
const WITNESSES = 2;

interface Shift {
  readonly kind: 'time' | 'height' | 'place';
  /** s or m. */
  readonly amount: number;
  readonly score: number;
  /** Best score of other shifts of the same kind, far from it. */
  readonly rival: number;
  readonly name: string;
}

/**
 * Whether the strong sources of a flight lie on its line, and if not, which single slip would put them there: another clock
 * (the aircraft's way in so many seconds), heights above the sea or in feet, an older datum. Sees nothing where the flight
 * had no strong source, and no slip along an even row of equal towers that is a whole number of spans.
 * @param unixS when the flight was, for the differences between the time scales
 */
export function sourcesAgainstLine(
  line: LineModel,
  track: Track,
  sources: readonly PlacedSource[],
  unixS: number,
): SourceFinding[] {
  if (sources.length === 0 || line.components.length === 0) return [];
  const index = indexLine(line);
  const scoreOf = (moved: (source: PlacedSource) => Vec3 | null): number =>
    sources.reduce((sum, source) => {
      const place = moved(source);
      return sum + (place ? scoreAt(index, place) : 0);
    }, 0);
  const asGiven = scoreOf((s) => s.placeEnuM);
  const undulationM = undulationAt(track, sources[0].placeEnuM);
  const shifts = [
    ...timeShifts(track, sources, scoreOf, unixS),
    ...heightShifts(scoreOf, undulationM),
    ...datumShifts(index, track, sources, scoreOf),
    feetShift(track, sources, scoreOf),
  ];
  const told = shifts
    .filter((s) => s.score >= asGiven + LEAST_GAIN && s.score * OTHER_EXPLAINS >= Math.max(s.rival, asGiven))
    .sort((a, b) => b.score - a.score);
  const off = sources.filter((s) => scoreAt(index, s.placeEnuM) === 0).length;
  const count = `${off} of ${sources.length} strong sources lie off the line`;
  if (told.length === 0) {
    if (off === 0 || 2 * off < sources.length) return [];
    return [
      {
        name: 'sources off the line',
        weight: 'warning',
        detail: `${count}, and no shift of clock, heights or datum brings them onto it`,
      },
    ];
  }
  return [named(told[0], `${count}; `, undulationM, unixS, sources.length)];
}

function named(best: Shift, count: string, undulationM: number, unixS: number, sources: number): SourceFinding {
  const weight = best.score >= WITNESSES * WIRE_SCORE && sources >= WITNESSES ? 'fault' : 'warning';
  if (best.kind === 'time') {
    const slip = clockSlip(best.amount, 0.25, unixS);
    const shift = `with camera stamps ${Math.abs(best.amount).toFixed(2)} s ${best.amount > 0 ? 'later' : 'earlier'} against the trajectory they lie on it`;
    return {
      name: slip?.name ?? 'clock of the trajectory off',
      weight,
      detail: `${count}${shift}${slip ? `. ${slip.todo}` : ''}`,
    };
  }
  if (best.kind === 'place')
    return {
      name: best.name.includes('EPSG') ? 'flight and line look on different datums' : 'flight and line apart',
      weight,
      detail: `${count}shifted by ${best.amount.toFixed(0)} m they lie on it: ${best.name}`,
    };
  if (best.name !== '') return { name: 'heights of the flight look like feet', weight, detail: `${count}${best.name}` };
  const shift = `${Math.abs(best.amount).toFixed(1)} m ${best.amount > 0 ? 'higher' : 'lower'} they lie on it; EGM96 is ${undulationM.toFixed(1)} m above the ellipsoid here`;
  const near = Math.abs(Math.abs(best.amount) - Math.abs(undulationM)) < GEOID_WITHIN_M && Math.abs(undulationM) > 3;
  if (!near) return { name: 'heights of flight and line apart', weight, detail: `${count}${shift}` };
  return {
    name:
      Math.sign(best.amount) === Math.sign(undulationM)
        ? 'heights of the flight look like heights above the sea'
        : 'heights of the line look like heights above the sea',
    weight,
    detail: `${count}${shift}`,
  };
}

function scoreAt(index: LineIndex, place: Vec3): number {
  const near = componentsNear(index, place, Math.max(ON_HARDWARE_M, ON_WIRE_M));
  const isWire = (kind: string): boolean => kind === 'conductor' || kind === 'earth wire';
  if (near.some(({ component, distanceM }) => !isWire(component.kind) && distanceM <= ON_HARDWARE_M)) return 1;
  return near.some(({ component, distanceM }) => isWire(component.kind) && distanceM <= ON_WIRE_M) ? WIRE_SCORE : 0;
}

type ScoreOf = (moved: (source: PlacedSource) => Vec3 | null) => number;

/** The best of a row of shifts, at the middle of the run that scores so, and the best of the others far from it. */
function bestOf(
  amounts: readonly number[],
  scores: readonly number[],
  far: number,
): { amount: number; score: number; rival: number } {
  const score = Math.max(...scores);
  const at = amounts.filter((_, i) => scores[i] === score);
  // Nearest to no shift of all that score so, and its neighbours: two runs are two explanations.
  const first = at.reduce((a, b) => (Math.abs(b) < Math.abs(a) ? b : a));
  const run = at.filter((x) => Math.abs(x - first) < far);
  const amount = run.reduce((a, b) => a + b, 0) / run.length;
  return { amount, score, rival: Math.max(0, ...scores.filter((_, i) => Math.abs(amounts[i] - amount) > far)) };
}

const rowOf = (reach: number, step: number): number[] => {
  const n = Math.round(reach / step);
  return Array.from({ length: 2 * n + 1 }, (_, i) => (i - n) * step);
};

/** Seen from the aircraft as it was, but at another time of its way. */
function timeShifts(track: Track, sources: readonly PlacedSource[], scoreOf: ScoreOf, unixS: number): Shift[] {
  const inBody = sources.map(({ placeEnuM, tNs }) => {
    const pose = interpolatePose(track, tNs);
    if (pose.kind === 'refused') return null;
    const { rotation, translation } = pose.enuFromBody;
    return multiplyVec(transpose(rotation), subtract(placeEnuM, translation));
  });
  const amounts = rowOf(REACH_S, STEP_S);
  const scores = amounts.map((s) =>
    scoreOf((source) => {
      const body = inBody[sources.indexOf(source)];
      const pose = body && interpolatePose(track, source.tNs + s * 1e9);
      if (!body || !pose || pose.kind === 'refused') return null;
      return add(multiplyVec(pose.enuFromBody.rotation, body), pose.enuFromBody.translation);
    }),
  );
  const isNamed = (amount: number): boolean => Math.abs(amount) > 1 && clockSlip(amount, 0.2, unixS) !== null;
  return either('time', amounts, scores, FAR_TIME_S, isNamed);
}

/** The best of all, and the best of those that have a name: at a tie the name is believed. */
function either(
  kind: Shift['kind'],
  amounts: readonly number[],
  scores: readonly number[],
  far: number,
  isNamed: (amount: number) => boolean,
): Shift[] {
  const best = bestOf(amounts, scores, far);
  const namedOnes = amounts.map((_, i) => i).filter((i) => isNamed(amounts[i]));
  const found: Shift[] = [{ kind, name: '', ...best }];
  if (namedOnes.length === 0) return found;
  const among = bestOf(
    namedOnes.map((i) => amounts[i]),
    namedOnes.map((i) => scores[i]),
    far,
  );
  if (among.score >= 0.9 * best.score) found.unshift({ kind, name: '', ...among, rival: 0 });
  return found;
}

function heightShifts(scoreOf: ScoreOf, undulationM: number): Shift[] {
  const amounts = rowOf(REACH_M, STEP_M);
  const scores = amounts.map((up) => scoreOf(({ placeEnuM }) => add(placeEnuM, [0, 0, up])));
  return either(
    'height',
    amounts,
    scores,
    FAR_HEIGHT_M,
    (up) => Math.abs(undulationM) > 3 && Math.abs(Math.abs(up) - Math.abs(undulationM)) < GEOID_WITHIN_M,
  );
}

/** Heights of the flight were feet, read as metres: every height is to be 0.3048 of itself. */
function feetShift(track: Track, sources: readonly PlacedSource[], scoreOf: ScoreOf): Shift {
  const upOf = new Map(
    sources.map((source) => {
      const pose = interpolatePose(track, source.tNs);
      const height = pose.kind === 'pose' ? track.frame.llhFromEnu(pose.enuFromBody.translation)[2] : Number.NaN;
      return [source, (0.3048 - 1) * height] as const;
    }),
  );
  const score = scoreOf((source) => add(source.placeEnuM, [0, 0, upOf.get(source) as number]));
  const amount = upOf.get(sources[0]) as number;
  return {
    kind: 'height',
    amount,
    score,
    rival: 0,
    name: `with the heights of the trajectory times 0.3048 they lie on it`,
  };
}

/** Level shifts that put some source onto some piece of hardware of its height, with their scores. */
function placeShifts(
  index: LineIndex,
  sources: readonly PlacedSource[],
  scoreOf: ScoreOf,
): { eastM: number; northM: number; score: number }[] {
  const shifts: { eastM: number; northM: number; score: number }[] = [];
  for (const { placeEnuM } of sources)
    for (const { kind, axisEnuM } of index.line.components) {
      if (kind === 'conductor' || kind === 'earth wire') continue;
      const low = Math.min(...axisEnuM.map((p) => p[2]));
      const high = Math.max(...axisEnuM.map((p) => p[2]));
      if (placeEnuM[2] < low - ON_HARDWARE_M || placeEnuM[2] > high + ON_HARDWARE_M) continue;
      const [eastM, northM] = subtract(axisEnuM[axisEnuM.length - 1], placeEnuM);
      if (Math.hypot(eastM, northM) > FARTHEST_DATUM_M) continue;
      if (shifts.some((o) => Math.hypot(o.eastM - eastM, o.northM - northM) < STEP_M)) continue;
      shifts.push({ eastM, northM, score: scoreOf((s) => add(s.placeEnuM, [eastM, northM, 0])) });
    }
  return shifts;
}

/** Shifts near what an older datum of the place would make; the parameters of a whole country are some metres off. */
function datumShifts(index: LineIndex, track: Track, sources: readonly PlacedSource[], scoreOf: ScoreOf): Shift[] {
  if (sources.length < WITNESSES) return [];
  const [lon, lat] = track.frame.llhFromEnu(sources[0].placeEnuM);
  const possible = placeShifts(index, sources, scoreOf);
  const best = possible.reduce((a, b) => (b.score > a.score ? b : a), { eastM: 0, northM: 0, score: 0 });
  const apart = (a: { eastM: number; northM: number }, b: { eastM: number; northM: number }): number =>
    Math.hypot(a.eastM - b.eastM, a.northM - b.northM);
  const datums = datumShiftsAt(lon, lat).flatMap(({ name, code, eastM, northM }): Shift[] =>
    [1, -1].flatMap((sign) => {
      const near = possible.filter((p) => apart(p, { eastM: sign * eastM, northM: sign * northM }) < DATUM_WITHIN_M);
      if (near.length === 0) return [];
      const { score } = near.reduce((a, b) => (b.score > a.score ? b : a));
      // Only where no other shift does clearly better; spans of equal length do as well.
      if (score < 0.9 * best.score) return [];
      const whose = sign > 0 ? 'the flight' : 'the line';
      return [
        {
          kind: 'place',
          amount: Math.hypot(eastM, northM),
          score,
          rival: 0,
          name: `${whose} seems given on ${name} (${code}) and read as WGS 84`,
        },
      ];
    }),
  );
  const rival = Math.max(0, ...possible.filter((p) => apart(p, best) > DATUM_WITHIN_M).map((p) => p.score));
  const way = `${Math.abs(best.eastM).toFixed(0)} m ${best.eastM < 0 ? 'west' : 'east'} and ${Math.abs(best.northM).toFixed(0)} m ${best.northM < 0 ? 'south' : 'north'}, which is no datum known here`;
  return [
    ...datums,
    { kind: 'place', amount: Math.hypot(best.eastM, best.northM), score: best.score - 0.01, rival, name: way },
  ];
}

function undulationAt(track: Track, place: Vec3): number {
  const [lon, lat] = track.frame.llhFromEnu(place);
  return egm96UndulationM(lon, lat);
}
