import type { EventRays, FramePoses } from '../sighting/EventRays.ts';
import type { SightingToPlace } from './gatherDischarges.ts';

/**
 * A sighting cut out of its flight with all that its place follows from, so that it can be placed again with the sightings of another
 * flight: its own rays, renumbered from 0, and the frames that they were taken in with one to either side, from which the motion is
 * read. Placing it gives what placing it in its flight gives.
 */
export function placingMaterial(input: SightingToPlace, id: string): SightingToPlace {
  const { sighting, rays, poses } = input;
  const n = sighting.rays.length;
  const own: EventRays = {
    count: n,
    event: Int32Array.from(sighting.rays, (r) => rays.event[r]),
    frame: Int32Array.from(sighting.rays, (r) => rays.frame[r]),
    tNs: Float64Array.from(sighting.rays, (r) => rays.tNs[r]),
    originEnuM: triples(rays.originEnuM, sighting.rays),
    directionEnu: triples(rays.directionEnu, sighting.rays),
    sigmaRad: Float64Array.from(sighting.rays, (r) => rays.sigmaRad[r]),
  };
  return {
    flight: input.flight,
    errors: input.errors,
    sighting: { ...sighting, id, rays: Int32Array.from({ length: n }, (_, i) => i) },
    rays: own,
    poses: posesAround(poses, new Set(own.frame)),
  };
}

function triples(data: Float64Array, rows: Int32Array): Float64Array {
  const out = new Float64Array(3 * rows.length);
  rows.forEach((row, i) => {
    out.set(data.subarray(3 * row, 3 * row + 3), 3 * i);
  });
  return out;
}

function posesAround(poses: FramePoses, frames: ReadonlySet<number>): FramePoses {
  const rows: number[] = [];
  for (let p = 0; p < poses.count; p++)
    if ([p - 1, p, p + 1].some((q) => q >= 0 && q < poses.count && frames.has(poses.frame[q]))) rows.push(p);
  const uvFromEnu = new Float64Array(9 * rows.length);
  rows.forEach((p, i) => {
    uvFromEnu.set(poses.uvFromEnu.subarray(9 * p, 9 * p + 9), 9 * i);
  });
  return {
    count: rows.length,
    frame: Int32Array.from(rows, (p) => poses.frame[p]),
    tNs: Float64Array.from(rows, (p) => poses.tNs[p]),
    exposureNs: Float64Array.from(rows, (p) => poses.exposureNs[p]),
    originEnuM: triples(poses.originEnuM, Int32Array.from(rows)),
    uvFromEnu,
  };
}
