import type { Vec3 } from '../../../src/maths/vec3.ts';
import type { ComponentAnswer, FindingRow, LineAnswer, SightingsAnswer, TrajectoryAnswer } from '../server/answers.ts';
import type { Chainage } from './Chainage.ts';
import { type Bounds, boundsOf } from './Viewport.ts';

/** From where the sheet looks: from above, from the side of the line, or along it. */
export type Aspect = 'plan' | 'profile' | 'across';

export type ItemRef =
  | { readonly kind: 'structure'; readonly id: string }
  | { readonly kind: 'component'; readonly id: string }
  | { readonly kind: 'finding'; readonly id: string }
  | { readonly kind: 'sighting'; readonly index: number };

/** Points as x, y by turns, metres on the plane of the aspect. */
export type FlatLine = Float64Array;

export interface StructureItem {
  readonly id: string;
  readonly kind: 'suspension' | 'tension';
  readonly foot: readonly [number, number];
  readonly top: readonly [number, number];
  readonly notSeen: boolean;
}
export interface ComponentItem {
  readonly id: string;
  readonly about: ComponentAnswer;
  readonly line: FlatLine;
  readonly bounds: Bounds;
}
export interface FindingItem {
  readonly id: string;
  readonly label: string;
  readonly at: readonly [number, number];
  /** Half-axes of the 95 % ellipse on this plane and the angle of the longer from x, counter-clockwise. */
  readonly ellipse: { readonly a: number; readonly b: number; readonly angleRad: number };
  readonly urgent: boolean;
  readonly decision: FindingRow['decision'];
}
export interface SheetItems {
  readonly aspect: Aspect;
  readonly structures: readonly StructureItem[];
  readonly hardware: readonly ComponentItem[];
  readonly wires: readonly ComponentItem[];
  readonly findings: readonly FindingItem[];
  readonly tracks: readonly { readonly name: string; readonly line: FlatLine }[];
  /** x, y by turns, one pair a sighting. */
  readonly sightings: Float64Array;
  /** 1 where a sighting was not believed. */
  readonly suspect: Uint8Array;
  readonly lineBounds: Bounds;
}

export type Flatten = (point: Vec3) => readonly [number, number];

export function flattenFor(aspect: Aspect, chainage: Chainage): Flatten {
  if (aspect === 'plan') return ([e, n]) => [e, n];
  if (aspect === 'profile') return (p) => [chainage.locate(p)[0], p[2]];
  return (p) => [chainage.locate(p)[1], p[2]];
}

const flatLine = (points: readonly Vec3[], flatten: Flatten): FlatLine => {
  const out = new Float64Array(2 * points.length);
  points.forEach((point, i) => out.set(flatten(point), 2 * i));
  return out;
};
const pairs = function* (line: FlatLine): Iterable<readonly [number, number]> {
  for (let i = 0; i + 1 < line.length; i += 2) yield [line[i]!, line[i + 1]!];
};

/** 95 % of two dimensions. */
const FACTOR95 = Math.sqrt(-2 * Math.log(0.05));

const URGENT = new Set<FindingRow['priority']>(['act now', 'plan soon']);

export function buildSheetItems(
  aspect: Aspect,
  chainage: Chainage,
  line: LineAnswer,
  findings: readonly FindingRow[],
  labelOf: (row: FindingRow) => string,
  tracks: readonly TrajectoryAnswer[],
  sightings: SightingsAnswer | null,
): SheetItems {
  const flatten = flattenFor(aspect, chainage);
  const item = (about: ComponentAnswer): ComponentItem => {
    const flat = flatLine(about.axisEnuM, flatten);
    return { id: about.id, about, line: flat, bounds: boundsOf(pairs(flat))! };
  };
  const notSeenAt = new Set(
    line.components.filter((c) => c.coverage.state === 'not seen').flatMap((c) => c.structureIds.slice(0, 1)),
  );
  const wires = line.conductors.map(item);
  const hardware = line.components.map(item);
  const structures = line.structures.map((s): StructureItem => {
    const [e, n, u] = s.footEnuM;
    return {
      id: s.id,
      kind: s.kind,
      foot: flatten(s.footEnuM),
      top: flatten([e, n, u + s.heightM]),
      notSeen: notSeenAt.has(s.id),
    };
  });
  const count = sightings?.count ?? 0;
  const spots = new Float64Array(2 * count);
  const suspect = new Uint8Array(count);
  for (let i = 0; i < count; i++) {
    spots.set(flatten([sightings!.eastM[i]!, sightings!.northM[i]!, sightings!.upM[i]!]), 2 * i);
    suspect[i] = sightings!.findingId[i] === null ? 1 : 0;
  }
  const lineBounds = boundsOf([
    ...structures.flatMap((s) => [s.foot, s.top]),
    ...[...wires, ...hardware].flatMap((c) => [...pairs(c.line)]),
  ]) ?? { minX: -50, maxX: 50, minY: -50, maxY: 50 };
  return {
    aspect,
    structures,
    hardware,
    wires,
    findings: findings
      .filter((row) => row.mergedInto === null)
      .map((row) => ({
        id: row.id,
        label: labelOf(row),
        at: flatten(row.positionEnuM),
        ellipse: ellipseOfRow(row, aspect, chainage),
        urgent: URGENT.has(row.priority) && row.decision !== 'rejected',
        decision: row.decision,
      })),
    tracks: tracks.map((track) => ({
      name: track.flight,
      line: flatLine(
        track.eastM.map((e, i): Vec3 => [e, track.northM[i]!, track.upM[i]!]),
        flatten,
      ),
    })),
    sightings: spots,
    suspect,
    lineBounds,
  };
}

/** Rows carry the horizontal ellipse and the height's own interval; their correlation is in the finding's own page. */
function ellipseOfRow(row: FindingRow, aspect: Aspect, chainage: Chainage): FindingItem['ellipse'] {
  const { majorM, minorM, bearingDeg } = row.horizontal95;
  const bearing = (bearingDeg * Math.PI) / 180;
  if (aspect === 'plan') return { a: majorM, b: minorM, angleRad: Math.PI / 2 - bearing };
  // Unit vector along (or across) the line at the finding, by a step of a metre each way.
  const [e, n, u] = row.positionEnuM;
  const at = chainage.locate([e, n, u]);
  const pick = aspect === 'profile' ? 0 : 1;
  const de = chainage.locate([e + 1, n, u])[pick] - at[pick];
  const dn = chainage.locate([e, n + 1, u])[pick] - at[pick];
  const onMajor = de * Math.sin(bearing) + dn * Math.cos(bearing);
  const onMinor = de * Math.cos(bearing) - dn * Math.sin(bearing);
  const x = Math.hypot(majorM * onMajor, minorM * onMinor);
  // The height's 95 % interval of one dimension, 1.9600 sigma, as wide as the ellipse of two, 2.4477 sigma.
  const y = (row.vertical95M / 1.96) * FACTOR95;
  return x >= y ? { a: x, b: y, angleRad: 0 } : { a: y, b: x, angleRad: Math.PI / 2 };
}
