import type { Lens } from '../../camera/Lens.ts';
import { projectPoint } from '../../camera/projectPoint.ts';
import type { Vec3 } from '../../maths/vec3.ts';
import type { PhotonEvents } from '../../photon/PhotonEvents.ts';
import type { EventRays, FramePoses } from '../../sighting/EventRays.ts';
import { pointInUvM } from '../../sighting/framePoses.ts';
import type { Sighting } from '../../sighting/Sighting.ts';

/**
 * How far a pass shows a discharge from where its place is projected, px: the mean over the sighting's own events, weighted by
 * membership. The place is one for all passes, while lens, boresight, clock and trajectory shift the picture of each pass by as
 * much as pixels, in opposite directions where two sides are flown; an aperture that did not follow would miss the light.
 * Accuracy: one event's scatter over the root of their number.
 */
export function offsetOfPass(
  sighting: Pick<Sighting, 'rays' | 'membership'>,
  rays: EventRays,
  events: PhotonEvents,
  poses: FramePoses,
  lens: Lens,
  positionEnuM: Vec3,
): readonly [number, number] {
  let pose = 0;
  let total = 0;
  let u = 0;
  let v = 0;
  sighting.rays.forEach((ray, i) => {
    while (pose < poses.count && poses.frame[pose] < rays.frame[ray]) pose++;
    if (pose === poses.count || poses.frame[pose] !== rays.frame[ray]) return;
    const px = projectPoint(pointInUvM(poses, pose, positionEnuM), lens);
    if (!px) return;
    const weight = sighting.membership[i];
    const event = rays.event[ray];
    total += weight;
    u += weight * (events.xPx[event] - px[0]);
    v += weight * (events.yPx[event] - px[1]);
  });
  return total > 0 ? [u / total, v / total] : [0, 0];
}
