import type { PhotonEvents } from '../photon/PhotonEvents.ts';
import type { FramePoses } from './EventRays.ts';

/** Poses `from` to `to` (both included) of a flight, as views into its columns. */
export function posesBetween(poses: FramePoses, from: number, to: number): FramePoses {
  const end = to + 1;
  return {
    count: end - from,
    frame: poses.frame.subarray(from, end),
    tNs: poses.tNs.subarray(from, end),
    exposureNs: poses.exposureNs.subarray(from, end),
    originEnuM: poses.originEnuM.subarray(3 * from, 3 * end),
    uvFromEnu: poses.uvFromEnu.subarray(9 * from, 9 * end),
  };
}

/** Events of the frames `from` to `to` (both included), as views into the columns. */
export function eventsBetween(events: PhotonEvents, from: number, to: number): PhotonEvents {
  const first = firstRowFrom(events.frame, events.count, from);
  const end = firstRowFrom(events.frame, events.count, to + 1);
  return {
    count: end - first,
    frame: events.frame.subarray(first, end),
    tNs: events.tNs.subarray(first, end),
    xPx: events.xPx.subarray(first, end),
    yPx: events.yPx.subarray(first, end),
    charge: events.charge.subarray(first, end),
    sigmaPx: events.sigmaPx.subarray(first, end),
    flags: events.flags.subarray(first, end),
  };
}

function firstRowFrom(frames: Int32Array, count: number, frame: number): number {
  let low = 0;
  let high = count;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (frames[middle] < frame) low = middle + 1;
    else high = middle;
  }
  return low;
}
