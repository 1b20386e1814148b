import Flatbush from 'flatbush';
import type { Vec3 } from '../maths/vec3.ts';
import { type ComponentDistance, distanceToComponent } from './distanceToComponent.ts';
import type { LineComponent, LineModel } from './LineModel.ts';

/** A line model made quick to ask for what is near a point. */
export interface LineIndex {
  readonly line: LineModel;
  readonly byId: ReadonlyMap<string, LineComponent>;
  /** null for a line without components. */
  readonly boxes: Flatbush | null;
  /** Component of each box. */
  readonly componentOfBox: Int32Array;
}

/** A span is cut into boxes of so many pieces, as one box around a slanting span would be mostly empty. */
const PIECES_A_BOX = 8;

export function indexLine(line: LineModel): LineIndex {
  const owners: number[] = [];
  const bounds: number[] = [];
  line.components.forEach((component, c) => {
    const axis = component.axisEnuM;
    for (let from = 0; from === 0 || from < axis.length - 1; from += PIECES_A_BOX) {
      const points = axis.slice(from, from + PIECES_A_BOX + 1);
      const east = points.map((p) => p[0]);
      const north = points.map((p) => p[1]);
      const r = component.radiusM;
      bounds.push(Math.min(...east) - r, Math.min(...north) - r, Math.max(...east) + r, Math.max(...north) + r);
      owners.push(c);
    }
  });
  let boxes: Flatbush | null = null;
  if (owners.length > 0) {
    boxes = new Flatbush(owners.length);
    for (let i = 0; i < bounds.length; i += 4) boxes.add(bounds[i], bounds[i + 1], bounds[i + 2], bounds[i + 3]);
    boxes.finish();
  }
  return { line, byId: new Map(line.components.map((c) => [c.id, c])), boxes, componentOfBox: Int32Array.from(owners) };
}

export interface NearComponent extends ComponentDistance {
  readonly component: LineComponent;
}

/** Components whose surface lies within `radiusM` of the point, nearest first (ties by id). */
export function componentsNear(index: LineIndex, pointEnuM: Vec3, radiusM: number): NearComponent[] {
  if (!index.boxes) return [];
  const [e, n] = pointEnuM;
  const hits = new Set(
    index.boxes.search(e - radiusM, n - radiusM, e + radiusM, n + radiusM).map((box) => index.componentOfBox[box]),
  );
  return [...hits]
    .map((c) => index.line.components[c])
    .map((component) => ({ component, ...distanceToComponent(pointEnuM, component) }))
    .filter((near) => near.distanceM <= radiusM)
    .sort((a, b) => a.distanceM - b.distanceM || (a.component.id < b.component.id ? -1 : 1));
}

export const componentById = (index: LineIndex, id: string): LineComponent | undefined => index.byId.get(id);
