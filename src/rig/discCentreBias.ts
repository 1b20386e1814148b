import type { Lens } from '../camera/Lens.ts';
import { projectPoint } from '../camera/projectPoint.ts';
import { type RigidTransform, transformPoint } from '../maths/rigidTransform.ts';
import type { Vec3 } from '../maths/vec3.ts';

/**
 * How far the centroid of a disc's image lies from the image of its centre, px: a tilted disc's near half looms
 * larger. The disc lies in the target's plane (normal z). Zero where the disc is not in front of the camera.
 * Accuracy: 1e-4 of the bias (a polygon of 48 corners whose second moments are those of the circle).
 */
export function discCentreBias(
  centreM: Vec3,
  diameterM: number,
  camFromTarget: RigidTransform,
  lens: Lens,
): readonly [number, number] {
  if (diameterM === 0) return [0, 0];
  const corners = 48;
  const middle = projectPoint(transformPoint(camFromTarget, centreM), lens);
  if (!middle) return [0, 0];
  // The bias goes with the second moment over the area, which for a polygon is (2 + cos(side angle)) / 3 of the circle's.
  const radiusM = (diameterM / 2) * Math.sqrt(3 / (2 + Math.cos((2 * Math.PI) / corners)));
  const outline: [number, number][] = [];
  for (let i = 0; i < corners; i++) {
    const angle = (2 * Math.PI * i) / corners;
    const at: Vec3 = [centreM[0] + radiusM * Math.cos(angle), centreM[1] + radiusM * Math.sin(angle), centreM[2]];
    const px = projectPoint(transformPoint(camFromTarget, at), lens);
    if (!px) return [0, 0];
    outline.push([px[0] - middle[0], px[1] - middle[1]]);
  }
  let area = 0;
  let u = 0;
  let v = 0;
  for (let i = 0; i < corners; i++) {
    const [a, b] = outline[i];
    const [c, d] = outline[(i + 1) % corners];
    const cross = a * d - b * c;
    area += cross / 2;
    u += ((a + c) * cross) / 6;
    v += ((b + d) * cross) / 6;
  }
  return Math.abs(area) > 0 ? [u / area, v / area] : [0, 0];
}
