import type { Lens } from '../../camera/Lens.ts';
import { type UvPx, uvPx } from '../../camera/pixel.ts';
import { projectPoint } from '../../camera/projectPoint.ts';
import { distance, norm, type Vec3 } from '../../maths/vec3.ts';
import type { EventRays, FramePoses } from '../../sighting/EventRays.ts';
import { pointInUvM } from '../../sighting/framePoses.ts';

/** Photon events of a stretch carried to one instant, as the uv camera would have seen them all from there. */
export interface OverlaidEvents {
  /** Where each event lies in the uv image of the instant. */
  readonly uv: readonly UvPx[];
  readonly inverseRangePerM: readonly number[];
}

/**
 * Carries events over to the instant of pose `at`: each ray is cut at the depth of the discharge, and the point there is
 * projected into the camera as it stood at that instant. Events of the discharge pile up; background smears out.
 * @param rows    rows of `rays` to carry
 * @param reachM  events whose point lies farther from the discharge than this are left out
 */
export function overlayEvents(
  rays: EventRays,
  rows: Iterable<number>,
  dischargeEnuM: Vec3,
  poses: FramePoses,
  at: number,
  lens: Lens,
  reachM: number,
): OverlaidEvents {
  const uv: UvPx[] = [];
  const inverseRangePerM: number[] = [];
  for (const row of rows) {
    const o = 3 * row;
    const originM: Vec3 = [rays.originEnuM[o], rays.originEnuM[o + 1], rays.originEnuM[o + 2]];
    const direction: Vec3 = [rays.directionEnu[o], rays.directionEnu[o + 1], rays.directionEnu[o + 2]];
    const alongM =
      direction[0] * (dischargeEnuM[0] - originM[0]) +
      direction[1] * (dischargeEnuM[1] - originM[1]) +
      direction[2] * (dischargeEnuM[2] - originM[2]);
    if (!(alongM > 0)) continue;
    const pointM: Vec3 = [
      originM[0] + direction[0] * alongM,
      originM[1] + direction[1] * alongM,
      originM[2] + direction[2] * alongM,
    ];
    if (distance(pointM, dischargeEnuM) > reachM) continue;
    const inUvM = pointInUvM(poses, at, pointM);
    const px = projectPoint(inUvM, lens);
    if (!px) continue;
    uv.push(uvPx(px[0], px[1]));
    inverseRangePerM.push(1 / norm(inUvM));
  }
  return { uv, inverseRangePerM };
}
