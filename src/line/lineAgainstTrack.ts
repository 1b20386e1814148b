import { egm96UndulationM } from '../earth/geoid.ts';
import type { Llh } from '../earth/Llh.ts';
import type { Track } from '../trajectory/Track.ts';
import type { LineModel, Structure } from './LineModel.ts';

export interface LineFinding {
  readonly name:
    | 'the flight is elsewhere'
    | 'latitude and longitude look swapped'
    | 'the flight looks below the ground'
    | 'heights of the flight look like feet'
    | 'heights of the flight look like heights above the sea'
    | 'heights of the line look like heights above the sea';
  readonly weight: 'warning' | 'fault';
  readonly detail: string;
}

/** A camera sees hardware from less than this; a flight that never comes so near belongs to another line. */
const SEES_M = 500;
/** An aircraft passing a tower is above the ground and not far above its top: the range of inspection flights. */
const LOWEST_ABOVE_FOOT_M = 2;
const HIGHEST_ABOVE_TOP_M = 45;
const NEAR_TOWER_M = 120;
const ENOUGH_PASSES = 3;

/**
 * Whether a line and a flight can belong together: place, order of the axes, and height reference. A shift of heights by
 * the geoid is named where the flight makes no sense as given and sense with the shift; a smaller one shows only in the
 * places of the discharges (heightSlip).
 */
export function lineAgainstTrack(line: LineModel, track: Track): LineFinding[] {
  if (line.structures.length === 0) return [];
  const passes = line.structures.map((s) => passOf(s, track));
  const nearest = passes.reduce((a, b) => (b.levelM < a.levelM ? b : a));
  if (nearest.levelM > SEES_M) return [elsewhere(line, track, nearest)];
  const near = passes.filter((p) => p.levelM < NEAR_TOWER_M);
  if (near.length < Math.min(ENOUGH_PASSES, line.structures.length)) return [];
  return heights(near);
}

interface Pass {
  readonly structure: Structure;
  readonly footLlh: Llh;
  /** Nearest approach, measured level. */
  readonly levelM: number;
  /** Height of the aircraft above the foot then. */
  readonly aboveFootM: number;
  /** Height of the aircraft then. */
  readonly flownM: number;
}

function passOf(structure: Structure, track: Track): Pass {
  const p = track.positionEnuM;
  const [e, n] = structure.footEnuM;
  let best = Number.POSITIVE_INFINITY;
  let row = 0;
  for (let i = 0; i < track.count; i++) {
    const level2 = (p[3 * i] - e) ** 2 + (p[3 * i + 1] - n) ** 2;
    if (level2 < best) {
      best = level2;
      row = i;
    }
  }
  const footLlh = track.frame.llhFromEnu(structure.footEnuM);
  return {
    structure,
    footLlh,
    levelM: Math.sqrt(best),
    aboveFootM: track.table.heightM[row] - footLlh[2],
    flownM: track.table.heightM[row],
  };
}

function elsewhere(line: LineModel, track: Track, nearest: Pass): LineFinding {
  const [lon, lat, height] = nearest.footLlh;
  const apartM = (llh: Llh) => {
    const [e, n] = track.frame.enuFromLlh(llh);
    let best = Number.POSITIVE_INFINITY;
    for (let i = 0; i < track.count; i++)
      best = Math.min(best, Math.hypot(track.positionEnuM[3 * i] - e, track.positionEnuM[3 * i + 1] - n));
    return best;
  };
  const detail = `the flight comes no nearer than ${km(nearest.levelM)} to ${line.name}`;
  const swapped = line.structures.some((s) => {
    const [sLon, sLat, sHeight] = track.frame.llhFromEnu(s.footEnuM);
    return Math.abs(sLon) <= 90 && apartM([sLat, sLon, sHeight]) < SEES_M;
  });
  if (swapped && apartM([lat, lon, height]) < nearest.levelM)
    return {
      name: 'latitude and longitude look swapped',
      weight: 'fault',
      detail: `${detail}, and passes it with the two exchanged`,
    };
  return { name: 'the flight is elsewhere', weight: 'fault', detail };
}

function heights(near: readonly Pass[]): LineFinding[] {
  const sensible = (shiftM: number) =>
    near.filter((p) => {
      const above = p.aboveFootM + shiftM;
      return above >= LOWEST_ABOVE_FOOT_M && above <= p.structure.heightM + HIGHEST_ABOVE_TOP_M;
    }).length;
  // Half of the passes making sense is enough to leave the heights alone.
  if (2 * sensible(0) >= near.length) return [];
  const undulationM = egm96UndulationM(near[0].footLlh[0], near[0].footLlh[1]);
  const aboveM = near.map((p) => p.aboveFootM).sort((a, b) => a - b)[near.length >> 1];
  const detail = `past the towers the aircraft is ${aboveM.toFixed(0)} m above their feet; the geoid here is ${undulationM.toFixed(1)} m above the ellipsoid`;
  const mended = (shiftM: number) => 2 * sensible(shiftM) > near.length;
  if (Math.abs(undulationM) > 5 && mended(undulationM))
    return [{ name: 'heights of the flight look like heights above the sea', weight: 'fault', detail }];
  if (Math.abs(undulationM) > 5 && mended(-undulationM))
    return [{ name: 'heights of the line look like heights above the sea', weight: 'fault', detail }];
  const inFeet = near.filter(
    (p) =>
      p.flownM * 0.3048 - p.footLlh[2] >= LOWEST_ABOVE_FOOT_M &&
      p.flownM * 0.3048 - p.footLlh[2] <= p.structure.heightM + HIGHEST_ABOVE_TOP_M,
  );
  if (2 * inFeet.length > near.length)
    return [
      {
        name: 'heights of the flight look like feet',
        weight: 'fault',
        detail: `${detail}; read as feet they make sense`,
      },
    ];
  if (aboveM < LOWEST_ABOVE_FOOT_M) return [{ name: 'the flight looks below the ground', weight: 'fault', detail }];
  return [];
}

const km = (m: number): string => (m < 10_000 ? `${Math.round(m)} m` : `${Math.round(m / 1000)} km`);
