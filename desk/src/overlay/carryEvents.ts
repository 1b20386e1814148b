import type { Lens } from '../../../src/camera/Lens.ts';
import { projectPoint } from '../../../src/camera/projectPoint.ts';
import type { Vec3 } from '../../../src/maths/vec3.ts';
import { firstFrom, type PassEvents } from './PassEvents.ts';
import { intoCamera, type PassPoses } from './PassPoses.ts';

/** Events as the ultraviolet camera would have seen them all from one place: u, v by turns, and the index of each in the pass. */
export interface CarriedEvents {
  readonly count: number;
  readonly uvPx: Float32Array;
  readonly index: Int32Array;
  /** Of each, from where the camera stands at the instant, 1/m. */
  readonly inverseRangePerM: Float32Array;
}

/**
 * Carries the events of a stretch of time to the instant of a pose: each ray is cut where it passes the target, and that
 * point is seen again from the instant's place. What glows at the target piles up; what glows elsewhere smears out.
 * @param follow false leaves every event at the pixel where it fell: right at the instant alone
 */
export function carryEvents(
  events: PassEvents,
  uvPoses: PassPoses,
  uvLens: Lens,
  at: { readonly poses: PassPoses; readonly pose: number },
  targetEnuM: Vec3,
  fromNs: number,
  toNs: number,
  follow = true,
): CarriedEvents {
  const first = firstFrom(events, fromNs);
  const last = firstFrom(events, toNs);
  const uvPx = new Float32Array(2 * (last - first));
  const index = new Int32Array(last - first);
  const inverseRangePerM = new Float32Array(last - first);
  const [te, tn, tu] = targetEnuM;
  const seen = intoCamera(at.poses, at.pose, targetEnuM);
  const targetInverseRange = 1 / Math.hypot(...seen);
  const { originEnuM: o } = uvPoses;
  const { directionEnu: d } = events;
  let n = 0;
  for (let i = first; i < last; i++) {
    const pose = events.pose[i]!;
    let u = events.uvPx[2 * i]!;
    let v = events.uvPx[2 * i + 1]!;
    let inverseRange = targetInverseRange;
    if (follow) {
      if (pose < 0) continue;
      const p = 3 * pose;
      const k = 3 * i;
      const dx = d[k]!;
      const dy = d[k + 1]!;
      const dz = d[k + 2]!;
      const along = dx * (te - o[p]!) + dy * (tn - o[p + 1]!) + dz * (tu - o[p + 2]!);
      if (!(along > 0)) continue;
      const point = intoCamera(at.poses, at.pose, [o[p]! + along * dx, o[p + 1]! + along * dy, o[p + 2]! + along * dz]);
      const px = projectPoint(point, uvLens);
      if (!px) continue;
      [u, v] = px;
      inverseRange = 1 / Math.hypot(...point);
    }
    uvPx[2 * n] = u;
    uvPx[2 * n + 1] = v;
    index[n] = i;
    inverseRangePerM[n] = inverseRange;
    n++;
  }
  return {
    count: n,
    uvPx: uvPx.subarray(0, 2 * n),
    index: index.subarray(0, n),
    inverseRangePerM: inverseRangePerM.subarray(0, n),
  };
}
