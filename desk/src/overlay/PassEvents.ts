import type { Lens } from '../../../src/camera/Lens.ts';
import { rayFromPixel } from '../../../src/camera/rayFromPixel.ts';
import { readColumns } from '../server/columns.ts';
import { intoEnu, type PassPoses } from './PassPoses.ts';

/** The photon events of one pass, each with the ray that it is in space. In order of time. */
export interface PassEvents {
  readonly count: number;
  readonly tNs: Float64Array;
  /** u, v by turns in pixels of the ultraviolet image. */
  readonly uvPx: Float32Array;
  /** Pose of its exposure; -1 where that has none. */
  readonly pose: Int32Array;
  /** Directions in the local frame, x, y, z by turns; 0 where there is none. */
  readonly directionEnu: Float64Array;
}

/** Afterglow (2), hot pixels (4) and what is far too bright (8) are no photons and are not drawn. */
const NOT_PHOTONS = 2 | 4 | 8;

export function eventsOf(bytes: ArrayBuffer, poses: PassPoses, uvLens: Lens): PassEvents {
  const { head, column } = readColumns(bytes);
  const flags = column('flags', 'uint32');
  const x = column('x_px', 'float32');
  const y = column('y_px', 'float32');
  const t = column('t_ns', 'float64');
  const frame = column('frame', 'uint32');
  const poseOfFrame = new Map<number, number>();
  for (let i = 0; i < poses.count; i++) poseOfFrame.set(poses.frame[i]!, i);
  const rows: number[] = [];
  for (let i = 0; i < head.count; i++) if ((flags[i]! & NOT_PHOTONS) === 0) rows.push(i);
  const out = {
    count: rows.length,
    tNs: new Float64Array(rows.length),
    uvPx: new Float32Array(2 * rows.length),
    pose: new Int32Array(rows.length),
    directionEnu: new Float64Array(3 * rows.length),
  };
  rows.forEach((row, i) => {
    out.tNs[i] = t[row]!;
    out.uvPx[2 * i] = x[row]!;
    out.uvPx[2 * i + 1] = y[row]!;
    const pose = poseOfFrame.get(frame[row]!) ?? -1;
    const ray = pose < 0 ? null : rayFromPixel([x[row]!, y[row]!], uvLens);
    out.pose[i] = ray ? pose : -1;
    if (ray) out.directionEnu.set(intoEnu(poses, pose, ray), 3 * i);
  });
  return out;
}

/** The first event at or after a time, by halving. */
export function firstFrom({ tNs, count }: PassEvents, fromNs: number): number {
  let low = 0;
  let high = count;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (tNs[middle]! < fromNs) low = middle + 1;
    else high = middle;
  }
  return low;
}
