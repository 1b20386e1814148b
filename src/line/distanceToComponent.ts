import type { Vec3 } from '../maths/vec3.ts';
import type { LineComponent } from './LineModel.ts';

export interface ComponentDistance {
  /** To the surface (axis with its radius), 0 inside. */
  readonly distanceM: number;
  readonly axisDistanceM: number;
  /** Where on the axis, by length: 0 at its start, 1 at its end; 0 for a thing without length. */
  readonly along: number;
  /** The axis point nearest by. */
  readonly nearestEnuM: Vec3;
}

/** Accuracy: rounding, on the polyline as given (a conductor's keeps within 1 mm of its catenary). */
export function distanceToComponent(
  pointEnuM: Vec3,
  component: Pick<LineComponent, 'axisEnuM' | 'radiusM'>,
): ComponentDistance {
  const axis = component.axisEnuM;
  let best = Number.POSITIVE_INFINITY;
  let nearestEnuM: Vec3 = axis[0];
  let nearestAtM = 0;
  let lengthM = 0;
  for (let i = 0; i + 1 < axis.length || i === 0; i++) {
    const a = axis[i];
    const b = axis[i + 1] ?? a;
    const dx = b[0] - a[0];
    const dy = b[1] - a[1];
    const dz = b[2] - a[2];
    const length2 = dx * dx + dy * dy + dz * dz;
    const px = pointEnuM[0] - a[0];
    const py = pointEnuM[1] - a[1];
    const pz = pointEnuM[2] - a[2];
    const k = length2 > 0 ? Math.max(0, Math.min(1, (px * dx + py * dy + pz * dz) / length2)) : 0;
    const gap2 = (px - k * dx) ** 2 + (py - k * dy) ** 2 + (pz - k * dz) ** 2;
    const pieceM = Math.sqrt(length2);
    if (gap2 < best) {
      best = gap2;
      nearestEnuM = [a[0] + k * dx, a[1] + k * dy, a[2] + k * dz];
      nearestAtM = lengthM + k * pieceM;
    }
    lengthM += pieceM;
  }
  const axisDistanceM = Math.sqrt(best);
  return {
    distanceM: Math.max(0, axisDistanceM - component.radiusM),
    axisDistanceM,
    along: lengthM > 0 ? nearestAtM / lengthM : 0,
    nearestEnuM,
  };
}
