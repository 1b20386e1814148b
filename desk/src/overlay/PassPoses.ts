import type { Vec3 } from '../../../src/maths/vec3.ts';
import { readColumns } from '../server/columns.ts';

/** Where the ultraviolet camera stood and looked at the middle of each exposure of one stream; times rising. */
export interface PassPoses {
  readonly count: number;
  readonly tNs: Float64Array;
  readonly frame: Uint32Array;
  /** x, y, z by turns, metres. */
  readonly originEnuM: Float64Array;
  /** Nine a pose, row by row: turns a direction of the local frame into the camera's. */
  readonly uvFromEnu: Float64Array;
}

const STREAM = { uv: 0, colour: 1 } as const;

export function posesOf(bytes: ArrayBuffer, stream: keyof typeof STREAM): PassPoses {
  const { head, column } = readColumns(bytes);
  const streams = column('stream', 'uint8');
  const rows: number[] = [];
  for (let i = 0; i < head.count; i++) if (streams[i] === STREAM[stream]) rows.push(i);
  const take = (all: Float64Array, width: number): Float64Array => {
    const out = new Float64Array(rows.length * width);
    rows.forEach((row, i) => out.set(all.subarray(row * width, (row + 1) * width), i * width));
    return out;
  };
  const frames = column('frame', 'uint32');
  return {
    count: rows.length,
    tNs: take(column('t_ns', 'float64'), 1),
    frame: Uint32Array.from(rows, (row) => frames[row]!),
    originEnuM: take(column('origin_enu_m', 'float64'), 3),
    uvFromEnu: take(column('uv_from_enu', 'float64'), 9),
  };
}

/** The last pose at or before a time; the first where the time lies before it; -1 without poses. */
export function poseAt(poses: PassPoses, tNs: number): number {
  let low = 0;
  let high = poses.count - 1;
  if (high < 0) return -1;
  while (low < high) {
    const middle = (low + high + 1) >> 1;
    if (poses.tNs[middle]! <= tNs) low = middle;
    else high = middle - 1;
  }
  return low;
}

export const originOf = ({ originEnuM: o }: PassPoses, i: number): Vec3 => [o[3 * i]!, o[3 * i + 1]!, o[3 * i + 2]!];

/** A point of the local frame in the axes of the camera at pose `i`. */
export function intoCamera(poses: PassPoses, i: number, [e, n, u]: Vec3): Vec3 {
  const { originEnuM: o, uvFromEnu: r } = poses;
  const x = e - o[3 * i]!;
  const y = n - o[3 * i + 1]!;
  const z = u - o[3 * i + 2]!;
  const k = 9 * i;
  return [
    r[k]! * x + r[k + 1]! * y + r[k + 2]! * z,
    r[k + 3]! * x + r[k + 4]! * y + r[k + 5]! * z,
    r[k + 6]! * x + r[k + 7]! * y + r[k + 8]! * z,
  ];
}

/** A direction of the camera at pose `i` in the local frame. */
export function intoEnu({ uvFromEnu: r }: PassPoses, i: number, [x, y, z]: Vec3): Vec3 {
  const k = 9 * i;
  return [
    r[k]! * x + r[k + 3]! * y + r[k + 6]! * z,
    r[k + 1]! * x + r[k + 4]! * y + r[k + 7]! * z,
    r[k + 2]! * x + r[k + 5]! * y + r[k + 8]! * z,
  ];
}
