import type { Lens } from '../../camera/Lens.ts';
import { type UvPx, uvPx } from '../../camera/pixel.ts';
import { projectPoint } from '../../camera/projectPoint.ts';
import { add, distance, dot, norm, scale, subtract, type Vec3 } from '../../maths/vec3.ts';
import type { EventRays, FramePoses } from '../../sighting/EventRays.ts';
import { pointInUvM } from '../../sighting/framePoses.ts';

/** Photon events of a stretch carried to one instant, as the uv camera would have seen them all from there. */
export interface OverlaidEvents {
  /** Where each event lies in the uv image of the instant. */
  readonly uv: readonly UvPx[];
  readonly inverseRangePerM: readonly number[];
}

/**
 * Carries events over to the instant of pose `at`: each ray is cut where it passes its own discharge, or this one where it
 * belongs to none, and the point there is projected into the camera as it stood at that instant. Events of a discharge
 * pile up, those of its neighbours too; background smears out.
 * @param rows    rows of `rays` to carry
 * @param ownerOf where the discharge lies that a row belongs to, null where it belongs to none
 * @param reachM  events whose point lies farther from the discharge than this are left out
 */
export function overlayEvents(
  rays: EventRays,
  rows: Iterable<number>,
  ownerOf: (row: number) => Vec3 | null,
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
    const target = ownerOf(row) ?? dischargeEnuM;
    const alongM = dot(direction, subtract(target, originM));
    if (!(alongM > 0)) continue;
    const pointM = add(originM, scale(direction, alongM));
    if (distance(pointM, dischargeEnuM) > reachM) continue;
    const inUvM = pointInUvM(poses, at, pointM);
    const px = projectPoint(inUvM, lens);
    if (!px) continue;
    uv.push(uvPx(px[0], px[1]));
    inverseRangePerM.push(1 / norm(inUvM));
  }
  return { uv, inverseRangePerM };
}
