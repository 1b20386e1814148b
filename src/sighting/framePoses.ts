import { multiplyVec, transpose } from '../maths/mat3.ts';
import { compose } from '../maths/rigidTransform.ts';
import type { FrameEntry } from '../recording/FrameIndex.ts';
import type { Mounting } from '../rig/Mounting.ts';
import { interpolatePose } from '../trajectory/interpolatePose.ts';
import type { Track } from '../trajectory/Track.ts';
import type { FramePoses } from './EventRays.ts';

/** Poses of the uv camera, and how many frames have none, by the reason the trajectory gives. */
export interface PosedFrames {
  readonly poses: FramePoses;
  readonly refused: Readonly<Record<string, number>>;
}

/**
 * Where the uv camera was, and how it looked, at the middle of each exposure: trajectory, then mounting.
 * @param entries rows of the uv index, in order
 * Frames in a gap of the trajectory have no pose and are left out, counted by reason.
 */
export function framePoses(track: Track, mounting: Mounting, entries: readonly FrameEntry[]): PosedFrames {
  const n = entries.length;
  const frame = new Int32Array(n);
  const tNs = new Float64Array(n);
  const exposureNs = new Float64Array(n);
  const originEnuM = new Float64Array(3 * n);
  const uvFromEnu = new Float64Array(9 * n);
  const refused: Record<string, number> = {};
  let count = 0;
  for (const entry of entries) {
    const pose = interpolatePose(track, entry.tNs + mounting.timeOffsetNs);
    if (pose.kind === 'refused') {
      refused[pose.because] = (refused[pose.because] ?? 0) + 1;
      continue;
    }
    const enuFromUv = compose(pose.enuFromBody, mounting.bodyFromUv);
    frame[count] = entry.frame;
    tNs[count] = entry.tNs;
    exposureNs[count] = entry.exposureNs;
    originEnuM.set(enuFromUv.translation, 3 * count);
    uvFromEnu.set(transpose(enuFromUv.rotation), 9 * count);
    count++;
  }
  return {
    poses: {
      count,
      frame: frame.subarray(0, count),
      tNs: tNs.subarray(0, count),
      exposureNs: exposureNs.subarray(0, count),
      originEnuM: originEnuM.subarray(0, 3 * count),
      uvFromEnu: uvFromEnu.subarray(0, 9 * count),
    },
    refused,
  };
}

/** A point of space in the uv camera's frame at pose `i`. */
export function pointInUvM(
  poses: FramePoses,
  i: number,
  pointEnuM: readonly [number, number, number],
): readonly [number, number, number] {
  const o = 3 * i;
  const r = poses.uvFromEnu.subarray(9 * i, 9 * i + 9) as unknown as Parameters<typeof multiplyVec>[0];
  return multiplyVec(r, [
    pointEnuM[0] - poses.originEnuM[o],
    pointEnuM[1] - poses.originEnuM[o + 1],
    pointEnuM[2] - poses.originEnuM[o + 2],
  ]);
}
