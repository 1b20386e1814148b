import type { Vec3 } from '../maths/vec3.ts';
import type { SearchCorridor } from './EventRays.ts';

/** A corridor laid out for asking often: 7 numbers a segment (start, unit axis, length). */
export interface CorridorTubes {
  readonly corridor: SearchCorridor;
  readonly rows: Float64Array;
}

export function tubesOf(corridor: SearchCorridor): CorridorTubes {
  const rows = new Float64Array(7 * corridor.segments.length);
  corridor.segments.forEach(({ fromEnuM, toEnuM }, i) => {
    const axis = [toEnuM[0] - fromEnuM[0], toEnuM[1] - fromEnuM[1], toEnuM[2] - fromEnuM[2]];
    const length = Math.hypot(axis[0], axis[1], axis[2]);
    const k = length > 0 ? 1 / length : 0;
    rows.set([...fromEnuM, axis[0] * k, axis[1] * k, axis[2] * k, length], 7 * i);
  });
  return { corridor, rows };
}

/**
 * Nearest and farthest distance along a ray at which it is inside the corridor (the tube of `radiusM` about each segment,
 * with flat ends one radius beyond), within the corridor's range interval. Where it enters several tubes, the gap
 * between them is included. Without segments: the range interval itself.
 * @returns null where the ray never enters
 */
export function rangesInCorridor(
  originEnuM: Vec3,
  directionEnu: Vec3,
  tubes: CorridorTubes,
): { nearM: number; farM: number } | null {
  const { radiusM, nearestM, farthestM } = tubes.corridor;
  const { rows } = tubes;
  if (rows.length === 0) return { nearM: nearestM, farM: farthestM };
  let nearM = Number.POSITIVE_INFINITY;
  let farM = Number.NEGATIVE_INFINITY;
  const dx = directionEnu[0];
  const dy = directionEnu[1];
  const dz = directionEnu[2];
  const radius2 = radiusM * radiusM;
  for (let i = 0; i < rows.length; i += 7) {
    const ax = rows[i + 3];
    const ay = rows[i + 4];
    const az = rows[i + 5];
    const px = originEnuM[0] - rows[i];
    const py = originEnuM[1] - rows[i + 1];
    const pz = originEnuM[2] - rows[i + 2];
    // Along the axis s(r) = s0 + r·sr; across it the squared distance is a r² + 2 b r + c.
    const s0 = px * ax + py * ay + pz * az;
    const sr = dx * ax + dy * ay + dz * az;
    const a = 1 - sr * sr;
    const b = px * dx + py * dy + pz * dz - s0 * sr;
    const c = px * px + py * py + pz * pz - s0 * s0 - radius2;
    let from = nearestM;
    let to = farthestM;
    if (a > 1e-12) {
      const discriminant = b * b - a * c;
      if (discriminant <= 0) continue;
      const root = Math.sqrt(discriminant);
      from = Math.max(from, (-b - root) / a);
      to = Math.min(to, (-b + root) / a);
    } else if (c > 0) continue;
    const length = rows[i + 6];
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
