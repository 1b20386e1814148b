import { cross, distance, dot, norm, subtract, type Vec3 } from '../maths/vec3.ts';
import type { SearchCorridor } from '../sighting/EventRays.ts';
import { distanceToComponent } from './distanceToComponent.ts';
import type { LineModel } from './LineModel.ts';

/** How far, as shares of the radius, the drawn pieces may be from a wire, and from hardware that is not drawn of its own. */
const THINNED = 1 / 10;
const COVERED = 1 / 5;
/** A piece shorter than this has hardly a direction; a thing without length is drawn so long, upright. */
const SHORTEST_M = 0.02;

type Segment = SearchCorridor['segments'][number];

/**
 * The places worth searching: within `radiusM` of a conductor or of hardware, seen from `nearestM` to `farthestM`.
 * Conductors are thinned to few straight pieces, and hardware that a piece already runs along (clamps, spacers, dampers)
 * is not drawn again; every component keeps within a fifth of the radius of some piece.
 */
export function corridorOf(
  line: LineModel,
  reach: { readonly radiusM: number; readonly nearestM: number; readonly farthestM: number },
): SearchCorridor {
  const segments: Segment[] = [];
  // Only what shares a tower or a span can lie so near; this keeps long lines from being compared with themselves.
  const byStructure = new Map<string, Segment[]>();
  const longestFirst = line.components
    .map((component) => ({
      component,
      lengthM: distance(component.axisEnuM[0], component.axisEnuM[component.axisEnuM.length - 1]),
    }))
    .sort((a, b) => b.lengthM - a.lengthM);
  for (const { component, lengthM } of longestFirst) {
    const neighbours = component.structureIds.flatMap((id) => byStructure.get(id) ?? []);
    const ends = thinned(component.axisEnuM, reach.radiusM * THINNED);
    if (ends.length <= 2 && neighbours.some((s) => ends.every((p) => awayM(p, s) < reach.radiusM * COVERED))) continue;
    const [e, n, u] = ends[0];
    const drawn: Segment[] =
      lengthM < SHORTEST_M
        ? [{ fromEnuM: [e, n, u - SHORTEST_M / 2], toEnuM: [e, n, u + SHORTEST_M / 2] }]
        : ends.slice(1).map((toEnuM, i) => ({ fromEnuM: ends[i], toEnuM }));
    segments.push(...drawn);
    for (const id of component.structureIds) byStructure.set(id, [...(byStructure.get(id) ?? []), ...drawn]);
  }
  return { segments, ...reach };
}

const awayM = (point: Vec3, { fromEnuM, toEnuM }: Segment): number =>
  distanceToComponent(point, { axisEnuM: [fromEnuM, toEnuM], radiusM: 0 }).axisDistanceM;

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
