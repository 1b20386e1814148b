import { cross, dot, norm, subtract, type Vec3 } from '../maths/vec3.ts';
import type { SearchCorridor } from '../sighting/EventRays.ts';
import { distanceToComponent } from './distanceToComponent.ts';
import type { LineModel } from './LineModel.ts';

/**
 * The places worth searching: within `radiusM` of a conductor or of hardware, seen from `nearestM` to `farthestM`.
 * Conductors are thinned to straight pieces that keep within a twentieth of the radius, so that there are few of them;
 * hardware without length that another piece covers is left out, and otherwise drawn 2 cm long, upright, so that every
 * piece has a direction.
 */
export function corridorOf(
  line: LineModel,
  reach: { readonly radiusM: number; readonly nearestM: number; readonly farthestM: number },
): SearchCorridor {
  const segments: { fromEnuM: Vec3; toEnuM: Vec3 }[] = [];
  const points: Vec3[] = [];
  for (const { axisEnuM } of line.components) {
    const ends = thinned(axisEnuM, reach.radiusM / 20);
    let drawn = false;
    for (let i = 1; i < ends.length; i++) {
      if (norm(subtract(ends[i], ends[i - 1])) < 0.02) continue;
      segments.push({ fromEnuM: ends[i - 1], toEnuM: ends[i] });
      drawn = true;
    }
    if (!drawn) points.push(axisEnuM[0]);
  }
  for (const [e, n, u] of points) {
    const covered = segments.some(
      (s) =>
        distanceToComponent([e, n, u], { axisEnuM: [s.fromEnuM, s.toEnuM], radiusM: 0 }).distanceM < reach.radiusM / 20,
    );
    if (!covered) segments.push({ fromEnuM: [e, n, u - 0.01], toEnuM: [e, n, u + 0.01] });
  }
  return { segments, ...reach };
}

/** The ends of straight pieces that keep within `toleranceM` of a polyline. Source: Douglas & Peucker 1973 (from memory). */
function thinned(axis: readonly Vec3[], toleranceM: number): Vec3[] {
  if (axis.length <= 2) return [...axis];
  const first = axis[0];
  const last = axis[axis.length - 1];
  const chord = subtract(last, first);
  let worst = 0;
  let at = 0;
  for (let i = 1; i < axis.length - 1; i++) {
    const off = subtract(axis[i], first);
    const gap = norm(chord) > 0 ? norm(cross(off, chord)) / norm(chord) : Math.sqrt(dot(off, off));
    if (gap > worst) {
      worst = gap;
      at = i;
    }
  }
  if (worst <= toleranceM) return [first, last];
  return [...thinned(axis.slice(0, at + 1), toleranceM), ...thinned(axis.slice(at), toleranceM).slice(1)];
}
