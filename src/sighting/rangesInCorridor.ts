import type { Vec3 } from '../maths/vec3.ts';
import type { SearchCorridor } from './EventRays.ts';

/**
 * Nearest and farthest distance along a ray at which it is inside the corridor (the tube of `radiusM` about each segment,
 * with flat ends one radius beyond), within the corridor's range interval. Where it enters several tubes, the gap
 * between them is included. Without segments: the range interval itself.
 * @returns null where the ray never enters
 */
export function rangesInCorridor(
  originEnuM: Vec3,
  directionEnu: Vec3,
  corridor: SearchCorridor,
): { nearM: number; farM: number } | null {
  const { segments, radiusM, nearestM, farthestM } = corridor;
  if (segments.length === 0) return { nearM: nearestM, farM: farthestM };
  let nearM = Number.POSITIVE_INFINITY;
  let farM = Number.NEGATIVE_INFINITY;
  const [dx, dy, dz] = directionEnu;
  for (const { fromEnuM, toEnuM } of segments) {
    const ax = toEnuM[0] - fromEnuM[0];
    const ay = toEnuM[1] - fromEnuM[1];
    const az = toEnuM[2] - fromEnuM[2];
    const length = Math.hypot(ax, ay, az);
    const k = length > 0 ? 1 / length : 0;
    const px = originEnuM[0] - fromEnuM[0];
    const py = originEnuM[1] - fromEnuM[1];
    const pz = originEnuM[2] - fromEnuM[2];
    // Along the axis s(r) = s0 + r·sr; across it the squared distance is a r² + 2 b r + c.
    const s0 = (px * ax + py * ay + pz * az) * k;
    const sr = (dx * ax + dy * ay + dz * az) * k;
    const a = 1 - sr * sr;
    const b = px * dx + py * dy + pz * dz - s0 * sr;
    const c = px * px + py * py + pz * pz - s0 * s0 - radiusM * radiusM;
    let from = nearestM;
    let to = farthestM;
    if (a > 1e-12) {
      const discriminant = b * b - a * c;
      if (discriminant <= 0) continue;
      const root = Math.sqrt(discriminant);
      from = Math.max(from, (-b - root) / a);
      to = Math.min(to, (-b + root) / a);
    } else if (c > 0) continue;
    if (Math.abs(sr) > 1e-12) {
      const r1 = (-radiusM - s0) / sr;
      const r2 = (length + radiusM - s0) / sr;
      from = Math.max(from, Math.min(r1, r2));
      to = Math.min(to, Math.max(r1, r2));
    } else if (s0 < -radiusM || s0 > length + radiusM) continue;
    if (from >= to) continue;
    nearM = Math.min(nearM, from);
    farM = Math.max(farM, to);
  }
  return nearM < farM ? { nearM, farM } : null;
}

/** Distance of a point from the nearest segment, m; infinite where there is none. */
export function distanceFromCorridorM(pointEnuM: Vec3, corridor: SearchCorridor): number {
  let nearest = Number.POSITIVE_INFINITY;
  for (const { fromEnuM, toEnuM } of corridor.segments) {
    const a = [toEnuM[0] - fromEnuM[0], toEnuM[1] - fromEnuM[1], toEnuM[2] - fromEnuM[2]];
    const p = [pointEnuM[0] - fromEnuM[0], pointEnuM[1] - fromEnuM[1], pointEnuM[2] - fromEnuM[2]];
    const aa = a[0] * a[0] + a[1] * a[1] + a[2] * a[2];
    const s = aa > 0 ? Math.max(0, Math.min(1, (a[0] * p[0] + a[1] * p[1] + a[2] * p[2]) / aa)) : 0;
    nearest = Math.min(nearest, Math.hypot(p[0] - s * a[0], p[1] - s * a[1], p[2] - s * a[2]));
  }
  return nearest;
}
