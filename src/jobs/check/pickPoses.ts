import type { FramePoses } from '../../sighting/EventRays.ts';
import type { FrameSample } from './sampleFrames.ts';

/** Without the frames to which an unusable stretch is the nearest that was looked at. */
export function posesWithout(
  poses: FramePoses,
  unusable: readonly FrameSample[],
  samples: readonly FrameSample[],
): FramePoses {
  if (unusable.length === 0) return poses;
  const middle = (s: FrameSample): number => (s.from + s.to) / 2;
  return pickPoses(poses, (frame) => {
    const nearest = samples.reduce((a, b) => (Math.abs(middle(b) - frame) < Math.abs(middle(a) - frame) ? b : a));
    return !unusable.includes(nearest);
  });
}

/** The poses of some frames, with memory of their own. */
export function pickPoses(poses: FramePoses, keep: (frame: number) => boolean): FramePoses {
  const rows = [...poses.frame.keys()].filter((row) => keep(poses.frame[row]));
  const wide = (data: Float64Array, n: number): Float64Array => {
    const out = new Float64Array(n * rows.length);
    rows.forEach((row, i) => {
      out.set(data.subarray(n * row, n * row + n), n * i);
    });
    return out;
  };
  return {
    count: rows.length,
    frame: Int32Array.from(rows, (row) => poses.frame[row]),
    tNs: wide(poses.tNs, 1),
    exposureNs: wide(poses.exposureNs, 1),
    originEnuM: wide(poses.originEnuM, 3),
    uvFromEnu: wide(poses.uvFromEnu, 9),
  };
}
