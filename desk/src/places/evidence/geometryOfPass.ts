import { projectPoint } from '../../../../src/camera/projectPoint.ts';
import { rayFromPixel } from '../../../../src/camera/rayFromPixel.ts';
import { multiplyVec, transpose } from '../../../../src/maths/mat3.ts';
import { dot, norm, scale, subtract, type Vec3 } from '../../../../src/maths/vec3.ts';
import { colourPxFromUv } from '../../../../src/rig/colourFromUv.ts';
import type { TwoCameraModel } from '../../../../src/rig/Registration.ts';
import { intoCamera, type PassPoses } from '../../overlay/PassPoses.ts';

/** Where a point of the local frame falls in the colour picture of a pose, by the mapping at its own range; null where it does not. */
export function colourPxOfPoint(
  model: TwoCameraModel,
  poses: PassPoses,
  pose: number,
  pointEnuM: Vec3,
): readonly [number, number] | null {
  const inUvM = intoCamera(poses, pose, pointEnuM);
  const uv = projectPoint(inUvM, model.uv);
  return uv ? colourPxFromUv(model, uv[0], uv[1], 1 / norm(inUvM)) : null;
}

/** Where a ray of a colour pixel meets the plane through the target across the line of sight, in the colour camera's axes, metres. */
function onPlane(model: TwoCameraModel, px: readonly [number, number], targetColourM: Vec3): Vec3 | null {
  const ray = rayFromPixel(px, model.colour);
  if (!ray) return null;
  const along = dot(ray, targetColourM);
  return along > 0 ? scale(ray, dot(targetColourM, targetColourM) / along) : null;
}

/** A point of the uv camera's axes in the colour camera's. */
export function intoColour({ colourFromUv }: TwoCameraModel, [x, y, z]: Vec3): Vec3 {
  const turned = multiplyVec(colourFromUv.rotation, [x, y, z]);
  const t = colourFromUv.translation;
  return [turned[0] + t[0], turned[1] + t[1], turned[2] + t[2]];
}

/**
 * Distance between two colour pixels on the plane through the target across the line of sight.
 * @param rangeSigmaM of the target, along the line of sight
 * @returns metres, with one sigma from the range and from a reading good to half a pixel at either end
 */
export function measuredBetween(
  model: TwoCameraModel,
  a: readonly [number, number],
  b: readonly [number, number],
  targetInUvM: Vec3,
  rangeSigmaM: number,
): { distanceM: number; sigmaM: number } | null {
  const target = intoColour(model, targetInUvM);
  const pa = onPlane(model, a, target);
  const pb = onPlane(model, b, target);
  if (!pa || !pb) return null;
  const distanceM = norm(subtract(pa, pb));
  const rangeM = norm(target);
  const readingM = (0.5 * Math.SQRT2 * rangeM) / Math.sqrt(model.colour.fxPx * model.colour.fyPx);
  return { distanceM, sigmaM: Math.hypot((distanceM * rangeSigmaM) / rangeM, readingM) };
}

/** One sigma of a point along the direction from which it is seen. */
export function sigmaAlong(covarianceEnuM2: readonly number[], fromEnuM: Vec3, pointEnuM: Vec3): number {
  const away = subtract(pointEnuM, fromEnuM);
  const d = scale(away, 1 / norm(away));
  let sum = 0;
  for (let i = 0; i < 3; i++) for (let j = 0; j < 3; j++) sum += d[i]! * covarianceEnuM2[3 * i + j]! * d[j]!;
  return Math.sqrt(Math.max(0, sum));
}

/** The 95 % ellipsoid seen in the colour picture: its outline's half-axes and tilt, by the projection's derivative. */
export function ellipseInPicture(
  model: TwoCameraModel,
  poses: PassPoses,
  pose: number,
  pointEnuM: Vec3,
  covarianceEnuM2: readonly number[],
): { u: number; v: number; a: number; b: number; angleDeg: number } | null {
  const at = colourPxOfPoint(model, poses, pose, pointEnuM);
  if (!at) return null;
  const h = 0.01;
  const j: number[] = [];
  for (let axis = 0; axis < 3; axis++) {
    const moved = pointEnuM.map((x, i) => (i === axis ? x + h : x)) as unknown as Vec3;
    const px = colourPxOfPoint(model, poses, pose, moved);
    if (!px) return null;
    j.push((px[0] - at[0]) / h, (px[1] - at[1]) / h);
  }
  let uu = 0;
  let uv = 0;
  let vv = 0;
  for (let a = 0; a < 3; a++)
    for (let b = 0; b < 3; b++) {
      const c = covarianceEnuM2[3 * a + b]!;
      uu += j[2 * a]! * c * j[2 * b]!;
      uv += j[2 * a]! * c * j[2 * b + 1]!;
      vv += j[2 * a + 1]! * c * j[2 * b + 1]!;
    }
  const middle = (uu + vv) / 2;
  const spread = Math.hypot((uu - vv) / 2, uv);
  // The outline of a three-dimensional ellipsoid of 95 %: √χ² of three dimensions.
  const factor = 2.7955;
  return {
    u: at[0],
    v: at[1],
    a: factor * Math.sqrt(middle + spread),
    b: factor * Math.sqrt(Math.max(0, middle - spread)),
    angleDeg: (Math.atan2(2 * uv, uu - vv) * 90) / Math.PI,
  };
}

/** A direction of the colour camera in the uv camera's axes. */
export const colourRayIntoUv = ({ colourFromUv }: TwoCameraModel, ray: Vec3): Vec3 =>
  multiplyVec(transpose(colourFromUv.rotation), ray);
