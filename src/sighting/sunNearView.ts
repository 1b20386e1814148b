import type { Lens } from '../camera/Lens.ts';
import { projectPoint } from '../camera/projectPoint.ts';
import { dot, subtract, unit, type Vec3 } from '../maths/vec3.ts';
import type { FramePoses } from './EventRays.ts';
import type { SourceFit } from './pointSource.ts';
import type { SearchScene } from './SearchScene.ts';

/** Unit vector towards the sun at a time; null while it is below the horizon. */
export type SunAt = (tNs: number) => Vec3 | null;

/** No filter blinds a camera to the disc of the sun, and its lens scatters light about it: nearer than this nothing is believed. */
const NEAR_SUN_RAD = (4 * Math.PI) / 180;
/** So far from the sun light may still fall on the front lens and scatter. */
const ON_THE_LENS_RAD = (10 * Math.PI) / 180;

/** Whether most of a source's light came from within four degrees of the sun. */
export function isNearSun(source: SourceFit, scene: SearchScene, sunAt: SunAt): boolean {
  let near = 0;
  let all = 0;
  source.event.forEach((k, i) => {
    const pose = scene.pose[k];
    const sun = sunAt(scene.tNs[pose]);
    all += source.membership[i];
    if (sun && dot(sun, lineOfSight(scene, k)) > Math.cos(NEAR_SUN_RAD)) near += source.membership[i];
  });
  return near > all / 2;
}

/** Where an event lies, east-north-up, unit length. */
function lineOfSight(scene: SearchScene, k: number): Vec3 {
  const m = scene.uvFromEnu;
  const R = 9 * scene.pose[k];
  const [x, y] = [scene.xn[k], scene.yn[k]];
  const along = (c: number): number => m[R + c] * x + m[R + 3 + c] * y + m[R + 6 + c];
  return unit([along(0), along(1), along(2)]);
}

/** Share of the frames that have the sun in the picture or within ten degrees of it. */
export function shareNearSun(poses: FramePoses, lens: Lens, sunAt: SunAt): number {
  let near = 0;
  for (let p = 0; p < poses.count; p++) {
    const sun = sunAt(poses.tNs[p]);
    if (sun && angleFromPicture(poses, p, lens, sun) < ON_THE_LENS_RAD) near++;
  }
  return poses.count > 0 ? near / poses.count : 0;
}

/** Angle between the sun and the nearest direction in the picture, on its way to the middle; 0 in the picture, rad. */
function angleFromPicture(poses: FramePoses, p: number, lens: Lens, sun: Vec3): number {
  const m = poses.uvFromEnu.subarray(9 * p, 9 * p + 9);
  const inUv = (c: number): number => m[3 * c] * sun[0] + m[3 * c + 1] * sun[1] + m[3 * c + 2] * sun[2];
  const at: Vec3 = [inUv(0), inUv(1), inUv(2)];
  const isInside = (direction: Vec3): boolean => {
    const px = projectPoint(direction, lens);
    return px !== null && px[0] >= -0.5 && px[1] >= -0.5 && px[0] <= lens.widthPx - 0.5 && px[1] <= lens.heightPx - 0.5;
  };
  if (isInside(at)) return 0;
  const offAxis = Math.acos(Math.max(-1, Math.min(1, at[2])));
  const side = unit(subtract(at, [0, 0, at[2]]));
  let [inside, outside] = [0, offAxis];
  for (let i = 0; i < 20; i++) {
    const middle = (inside + outside) / 2;
    const direction: Vec3 = [Math.sin(middle) * side[0], Math.sin(middle) * side[1], Math.cos(middle)];
    if (isInside(direction)) inside = middle;
    else outside = middle;
  }
  return offAxis - inside;
}
