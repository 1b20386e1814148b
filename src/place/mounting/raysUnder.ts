import { type Mat3, multiply, multiplyVec, transpose } from '../../maths/mat3.ts';
import { add, type Vec3 } from '../../maths/vec3.ts';
import type { Mounting } from '../../rig/Mounting.ts';
import type { EventRays, FramePoses } from '../../sighting/EventRays.ts';
import { interpolatePoses } from '../../trajectory/interpolatePose.ts';
import type { Track } from '../../trajectory/Track.ts';
import type { UvRay } from './PointView.ts';

/** Before and after each exposure's middle, for the camera's motion: short against gusts, long against a row of 100 Hz. */
const STEP_NS = 1e7;

/** The rays of one view in space, under a mounting; null where the trajectory has no pose for one of them. */
export function raysUnder(
  track: Track,
  mounting: Mounting,
  uvRays: readonly UvRay[],
): { readonly rays: EventRays; readonly poses: FramePoses } | null {
  const stamps = [...new Set(uvRays.map((ray) => ray.tNs))].sort((a, b) => a - b);
  const rowOf = new Map(stamps.map((tNs, i) => [tNs, i]));
  const exposureNs = new Float64Array(3 * stamps.length);
  for (const ray of uvRays) exposureNs[3 * (rowOf.get(ray.tNs) as number) + 1] = ray.exposureNs;
  const times = stamps.flatMap((tNs) => [tNs - STEP_NS, tNs, tNs + STEP_NS]);
  const body = interpolatePoses(
    track,
    times.map((tNs) => tNs + mounting.timeOffsetNs),
  );
  const frame = new Int32Array(times.length);
  const tNs = new Float64Array(times.length);
  const originEnuM = new Float64Array(3 * times.length);
  const uvFromEnu = new Float64Array(9 * times.length);
  const rotations: Mat3[] = [];
  const origins: Vec3[] = [];
  let count = 0;
  const exposure = new Float64Array(times.length);
  for (let i = 0; i < times.length; i++) {
    if (body.refusal[i] !== 0) {
      if (i % 3 === 1) return null;
      continue;
    }
    const enuFromBody = Array.from(body.enuFromBody.subarray(9 * i, 9 * i + 9)) as unknown as Mat3;
    const rotation = multiply(enuFromBody, mounting.bodyFromUv.rotation);
    const p = body.positionEnuM;
    const origin = add(
      [p[3 * i], p[3 * i + 1], p[3 * i + 2]],
      multiplyVec(enuFromBody, mounting.bodyFromUv.translation),
    );
    frame[count] = i;
    tNs[count] = times[i];
    exposure[count] = exposureNs[i];
    originEnuM.set(origin, 3 * count);
    uvFromEnu.set(transpose(rotation), 9 * count);
    count++;
    if (i % 3 === 1) {
      rotations.push(rotation);
      origins.push(origin);
    }
  }
  const n = uvRays.length;
  const rays = {
    count: n,
    event: Int32Array.from({ length: n }, (_, i) => i),
    frame: new Int32Array(n),
    tNs: new Float64Array(n),
    originEnuM: new Float64Array(3 * n),
    directionEnu: new Float64Array(3 * n),
    sigmaRad: new Float64Array(n),
  };
  uvRays.forEach((ray, i) => {
    const row = rowOf.get(ray.tNs) as number;
    rays.frame[i] = 3 * row + 1;
    rays.tNs[i] = ray.tNs;
    rays.originEnuM.set(origins[row], 3 * i);
    rays.directionEnu.set(multiplyVec(rotations[row], ray.directionUv), 3 * i);
    rays.sigmaRad[i] = ray.sigmaRad;
  });
  return {
    rays,
    poses: {
      count,
      frame: frame.subarray(0, count),
      tNs: tNs.subarray(0, count),
      exposureNs: exposure.subarray(0, count),
      originEnuM: originEnuM.subarray(0, 3 * count),
      uvFromEnu: uvFromEnu.subarray(0, 9 * count),
    },
  };
}
