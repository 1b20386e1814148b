import type { Lens } from '../camera/Lens.ts';
import { undistort } from '../camera/rayFromPixel.ts';
import { determinant, type Mat3 } from '../maths/mat3.ts';
import type { RigidTransform } from '../maths/rigidTransform.ts';
import { cross, dot, norm, scale, subtract, unit, type Vec3 } from '../maths/vec3.ts';
import { homographyFromPoints } from './homography.ts';

/**
 * A first pose of a nearly flat target from one image of it, for an adjustment to start from.
 * @param targetM at least four points near the plane z = 0 of the target, no three on a line
 * @param px      their pixels
 * @returns       camFromTarget with the target in front of the camera, or null where the points do not fix it
 * Source: Zhang, IEEE PAMI 22 (2000) 1330, 3.1 (from memory).
 */
export function planePose(
  targetM: readonly Vec3[],
  px: readonly (readonly [number, number])[],
  lens: Lens,
): RigidTransform | null {
  const rays: [number, number][] = [];
  for (const p of px) {
    const xy = undistort(p, lens);
    if (!xy) return null;
    rays.push([xy[0], xy[1]]);
  }
  const h = homographyFromPoints(
    targetM.map((p) => [p[0], p[1]] as const),
    rays,
  );
  return h && poseFromHomography(h);
}

/** camFromTarget from the homography that takes the target's plane (metres) to undistorted image coordinates. */
export function poseFromHomography(h: Mat3): RigidTransform | null {
  const a: Vec3 = [h[0], h[3], h[6]];
  const b: Vec3 = [h[1], h[4], h[7]];
  const t: Vec3 = [h[2], h[5], h[8]];
  const size = Math.sqrt(norm(a) * norm(b));
  if (!(size > 0)) return null;
  const k = (t[2] > 0 ? 1 : -1) / size;
  // The two columns should be orthonormal: share the error between them.
  const x = scale(a, k);
  const y = scale(b, k);
  const z = cross(x, y);
  if (!(norm(z) > 0)) return null;
  const c3 = unit(z);
  const along = unit([
    x[0] / norm(x) + y[0] / norm(y),
    x[1] / norm(x) + y[1] / norm(y),
    x[2] / norm(x) + y[2] / norm(y),
  ]);
  const across = subtract(unit(x), unit(y));
  const side = unit(subtract(across, scale(along, dot(across, along))));
  const c1 = scale([along[0] + side[0], along[1] + side[1], along[2] + side[2]], Math.SQRT1_2);
  const c2 = scale([along[0] - side[0], along[1] - side[1], along[2] - side[2]], Math.SQRT1_2);
  const rotation: Mat3 = [c1[0], c2[0], c3[0], c1[1], c2[1], c3[1], c1[2], c2[2], c3[2]];
  if (!(determinant(rotation) > 0.9)) return null;
  return { rotation, translation: scale(t, k) };
}
