import Flatbush from 'flatbush';
import type { LineComponent, LineModel } from '../line/LineModel.ts';
import { dot, norm, subtract, type Vec3 } from '../maths/vec3.ts';

/** A thing that takes light away behind it: a cone about an axis (a capsule where the radii are equal), open or solid. */
export interface Obstacle {
  /** Component or structure it stands for. */
  readonly id: string;
  readonly fromEnuM: Vec3;
  readonly toEnuM: Vec3;
  readonly fromRadiusM: number;
  readonly toRadiusM: number;
  /** Share of the light that does not pass through its outline: 1 for a solid body, less for a lattice or a ring. */
  readonly opacity: number;
}

/**
 * Share of its outline that each kind of hardware fills (judgement from drawings, no source): rings and spacers are open frames, the
 * bodies of dampers lie at the ends of their cable. Wires follow from their own diameters.
 */
const OPACITY: Readonly<Record<Exclude<LineComponent['kind'], 'conductor' | 'earth wire'>, number>> = {
  'insulator string': 1,
  clamp: 1,
  ring: 0.2,
  joint: 1,
  spacer: 0.3,
  damper: 0.4,
};

/** A lattice tower, of which the line model knows foot and height alone: half-width at foot and top as shares of the height. */
const TOWER_FOOT = 0.1;
const TOWER_TOP = 0.02;
/** Share of its outline that the steel of a lattice fills: 0.2 to 0.4 for both faces together (common practice, no source). */
const TOWER_OPACITY = 0.3;

/** What of a line stands in the way of light, in pieces, quick to ask along a view. */
export interface Obstacles {
  readonly pieces: readonly Obstacle[];
  readonly boxes: Flatbush | null;
}

export function obstaclesOf(line: LineModel): Obstacles {
  const pieces: Obstacle[] = [];
  for (const component of line.components) {
    const opacity = opacityOf(component);
    const axis = component.axisEnuM;
    for (let i = 0; i + 1 < axis.length || i === 0; i++)
      pieces.push({
        id: component.id,
        fromEnuM: axis[i],
        toEnuM: axis[i + 1] ?? axis[i],
        fromRadiusM: component.radiusM,
        toRadiusM: component.radiusM,
        opacity,
      });
  }
  for (const { id, footEnuM, heightM } of line.structures)
    pieces.push({
      id,
      fromEnuM: footEnuM,
      toEnuM: [footEnuM[0], footEnuM[1], footEnuM[2] + heightM],
      fromRadiusM: TOWER_FOOT * heightM,
      toRadiusM: TOWER_TOP * heightM,
      opacity: TOWER_OPACITY,
    });
  if (pieces.length === 0) return { pieces, boxes: null };
  const boxes = new Flatbush(pieces.length);
  for (const { fromEnuM: a, toEnuM: b, fromRadiusM, toRadiusM } of pieces) {
    const r = Math.max(fromRadiusM, toRadiusM);
    boxes.add(Math.min(a[0], b[0]) - r, Math.min(a[1], b[1]) - r, Math.max(a[0], b[0]) + r, Math.max(a[1], b[1]) + r);
  }
  boxes.finish();
  return { pieces, boxes };
}

/** A bundle is seen through: its wires side by side over the width of the whole. */
function opacityOf(component: LineComponent): number {
  if (component.kind !== 'conductor' && component.kind !== 'earth wire') return OPACITY[component.kind];
  const { bundle, radiusM } = component;
  return bundle && bundle.count > 1 ? Math.min(1, (bundle.count * bundle.radiusM) / radiusM) : 1;
}

/** What touches the place, or all but does, is part of it: light that leaves hardware is not hidden by its own fittings. */
const TOUCHING_M = 0.3;

/** Obstacles that a place is not part of; all views of one place share them. */
export function obstaclesBut(obstacles: Obstacles, place: Vec3): (piece: number) => boolean {
  const own = new Set<string>();
  for (const piece of nearby(obstacles, place, place)) {
    const { id, fromEnuM, toEnuM, fromRadiusM, toRadiusM } = obstacles.pieces[piece];
    const { gapM, alongSecond } = nearest(place, place, fromEnuM, toEnuM);
    if (gapM < fromRadiusM + alongSecond * (toRadiusM - fromRadiusM) + TOUCHING_M) own.add(id);
  }
  return (piece) => !own.has(obstacles.pieces[piece].id);
}

/**
 * Share of the light from a place that reaches a camera past the obstacles, and which of them takes most.
 * Each thing counts once however many of its pieces the view crosses; several weaken one after the other.
 */
export function lightPast(
  obstacles: Obstacles,
  counts: (piece: number) => boolean,
  placeEnuM: Vec3,
  cameraEnuM: Vec3,
): { readonly share: number; readonly mostBy: string | null } {
  let share = 1;
  let mostBy: string | null = null;
  let most = 0;
  const met: string[] = [];
  for (const piece of nearby(obstacles, placeEnuM, cameraEnuM)) {
    const { id, fromEnuM, toEnuM, fromRadiusM, toRadiusM, opacity } = obstacles.pieces[piece];
    if (!counts(piece) || met.includes(id)) continue;
    const { gapM, alongSecond } = nearest(placeEnuM, cameraEnuM, fromEnuM, toEnuM);
    if (gapM >= fromRadiusM + alongSecond * (toRadiusM - fromRadiusM)) continue;
    met.push(id);
    share *= 1 - opacity;
    if (opacity > most || (opacity === most && mostBy !== null && id < mostBy)) {
      most = opacity;
      mostBy = id;
    }
  }
  return { share, mostBy };
}

function nearby({ boxes }: Obstacles, a: Vec3, b: Vec3): number[] {
  if (!boxes) return [];
  const reach = a === b ? TOUCHING_M : 0;
  return boxes
    .search(
      Math.min(a[0], b[0]) - reach,
      Math.min(a[1], b[1]) - reach,
      Math.max(a[0], b[0]) + reach,
      Math.max(a[1], b[1]) + reach,
    )
    .sort((i, j) => i - j);
}

/**
 * Least distance of two straight pieces, and where on the second it is met (0 to 1). Either may be a point.
 * Source: Ericson, Real-Time Collision Detection (2005), 5.1.9 (from memory).
 */
export function nearest(p: Vec3, pEnd: Vec3, q: Vec3, qEnd: Vec3): { gapM: number; alongSecond: number } {
  const u = subtract(pEnd, p);
  const v = subtract(qEnd, q);
  const w = subtract(p, q);
  const a = dot(u, u);
  const e = dot(v, v);
  const f = dot(v, w);
  const c = dot(u, w);
  let s = 0;
  let t = 0;
  if (a > 0 && e > 0) {
    const b = dot(u, v);
    const parallel = a * e - b * b;
    s = parallel > 1e-12 * a * e ? clamp((b * f - c * e) / parallel) : 0;
    t = (b * s + f) / e;
    if (t < 0) {
      t = 0;
      s = clamp(-c / a);
    } else if (t > 1) {
      t = 1;
      s = clamp((b - c) / a);
    }
  } else if (e > 0) t = clamp(f / e);
  else if (a > 0) s = clamp(-c / a);
  return {
    gapM: norm([w[0] + s * u[0] - t * v[0], w[1] + s * u[1] - t * v[1], w[2] + s * u[2] - t * v[2]]),
    alongSecond: t,
  };
}

const clamp = (x: number): number => Math.max(0, Math.min(1, x));
