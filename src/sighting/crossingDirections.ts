import type { Candidate, CrossingSearch } from './crossingCandidates.ts';
import { projectIntoPose, type SearchScene } from './SearchScene.ts';

/** Events of a scene by the cell of the unit sphere that their direction falls into. */
export interface DirectionCells {
  readonly sizeRad: number;
  /** Rows in order of cell, then of event. */
  readonly events: Int32Array;
  readonly rowsOfCell: ReadonlyMap<number, readonly [from: number, to: number]>;
  /** Unit directions in the frame of the scene, 3 numbers an event. */
  readonly direction: Float64Array;
}

/** How many sigmas two rays may miss each other by. */
const MISS_SIGMAS = 3;

/** Sorts the events by direction, in cells as large as the farthest that two of one source can lie apart. */
export function directionCells(scene: SearchScene): DirectionCells {
  const sizePx = MISS_SIGMAS * Math.sqrt(2 * scene.largestVariancePx2) + 1.2 * largestTurnPx(scene);
  const sizeRad = Math.max(1e-4, sizePx / scene.lens.fxPx);
  const direction = new Float64Array(3 * scene.count);
  const cell = new Float64Array(scene.count);
  const m = scene.uvFromEnu;
  for (let k = 0; k < scene.count; k++) {
    const R = 9 * scene.pose[k];
    const length = Math.hypot(scene.xn[k], scene.yn[k], 1);
    for (let c = 0; c < 3; c++)
      direction[3 * k + c] = (m[R + c] * scene.xn[k] + m[R + 3 + c] * scene.yn[k] + m[R + 6 + c]) / length;
    cell[k] = cellAt(direction, 3 * k, sizeRad, 0, 0, 0);
  }
  const events = Int32Array.from(cell, (_, k) => k).sort((a, b) => cell[a] - cell[b] || a - b);
  const rowsOfCell = new Map<number, readonly [number, number]>();
  for (let from = 0; from < events.length; ) {
    let to = from;
    while (to < events.length && cell[events[to]] === cell[events[from]]) to++;
    rowsOfCell.set(cell[events[from]], [from, to]);
    from = to;
  }
  return { sizeRad, events, rowsOfCell, direction };
}

function cellAt(direction: Float64Array, at: number, sizeRad: number, dx: number, dy: number, dz: number): number {
  const across = Math.ceil(2 / sizeRad) + 4;
  const x = Math.floor((direction[at] + 1) / sizeRad) + 1 + dx;
  const y = Math.floor((direction[at + 1] + 1) / sizeRad) + 1 + dy;
  const z = Math.floor((direction[at + 2] + 1) / sizeRad) + 1 + dz;
  return (x * across + y) * across + z;
}

/** How far the camera turns during an exposure, at most, px at the focal length. */
function largestTurnPx(scene: SearchScene): number {
  const m = scene.uvFromEnu;
  let most = 0;
  for (let p = 1; p < scene.poseCount; p++) {
    const dt = scene.tNs[p] - scene.tNs[p - 1];
    if (!(dt > 0 && dt < 0.5e9)) continue;
    let trace = 0;
    for (let i = 0; i < 9; i++) trace += m[9 * p + i] * m[9 * p - 9 + i];
    const angle = Math.acos(Math.max(-1, Math.min(1, (trace - 1) / 2)));
    most = Math.max(most, (angle * scene.exposureNs[p]) / dt);
  }
  return most * scene.lens.fxPx;
}

/**
 * As `bestCrossing`, for a scene whose camera does not move from its place: all rays that cross do so along the whole ray, so
 * that only directions need to agree, and events nearby are found by cells. All events vote, however many a frame has.
 * @param rangeM where along the ray the candidate is put
 */
export function crossingDirection(
  scene: SearchScene,
  seed: number,
  search: Pick<CrossingSearch, 'alive' | 'farthestFrames' | 'leastCrossing'>,
  cells: DirectionCells,
  rangeM: number,
): Pick<Candidate, 'pointEnuM' | 'seedPose' | 'seedEvent' | 'crossing'> | null {
  const p = scene.pose[seed];
  const { direction, sizeRad } = cells;
  const dx = direction[3 * seed];
  const dy = direction[3 * seed + 1];
  const dz = direction[3 * seed + 2];
  const smearPx = smearOf(scene, seed, [dx * rangeM, dy * rangeM, dz * rangeM]);
  const m = scene.uvFromEnu;
  let crossing = 1;
  for (let cell = 0; cell < 27; cell++) {
    const at = cellAt(
      direction,
      3 * seed,
      sizeRad,
      (cell % 3) - 1,
      (Math.floor(cell / 3) % 3) - 1,
      Math.floor(cell / 9) - 1,
    );
    const rows = cells.rowsOfCell.get(at);
    if (!rows) continue;
    for (let row = rows[0]; row < rows[1]; row++) {
      const k = cells.events[row];
      const q = scene.pose[k];
      if (q === p || search.alive[k] === 0 || Math.abs(q - p) > search.farthestFrames) continue;
      const Q = 9 * q;
      const z = m[Q + 6] * dx + m[Q + 7] * dy + m[Q + 8] * dz;
      if (!(z > 0)) continue;
      const missX = (m[Q] * dx + m[Q + 1] * dy + m[Q + 2] * dz) / z - scene.xn[k];
      const missY = (m[Q + 3] * dx + m[Q + 4] * dy + m[Q + 5] * dz) / z - scene.yn[k];
      const allowed = MISS_SIGMAS * Math.sqrt(scene.variancePx2[k] + scene.variancePx2[seed]) + smearPx;
      if (Math.hypot(missX, missY) * scene.lens.fxPx <= allowed) crossing++;
    }
  }
  return crossing < search.leastCrossing
    ? null
    : { pointEnuM: [dx * rangeM, dy * rangeM, dz * rangeM], seedPose: p, seedEvent: seed, crossing };
}

/** How far a direction moves in the image during the exposure of an event's frame, px. */
function smearOf(scene: SearchScene, seed: number, [x, y, z]: readonly [number, number, number]): number {
  const p = scene.pose[seed];
  const beside = p + 1 < scene.poseCount ? p + 1 : p - 1;
  if (beside < 0) return 0;
  const dt = Math.abs(scene.tNs[beside] - scene.tNs[p]);
  const px = new Float64Array(2);
  if (!(dt > 0 && dt < 0.5e9) || !projectIntoPose(px, scene, beside, x, y, z)) return 0;
  return (Math.hypot(px[0] - scene.xPx[seed], px[1] - scene.yPx[seed]) * scene.exposureNs[p]) / dt;
}
