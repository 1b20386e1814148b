import type { FlatLine } from './SheetItems.ts';
import { type Bounds, screenX, screenY, shownBounds, type Viewport } from './Viewport.ts';

/** Draws in metres on a canvas; what lies far outside the view is clipped before the canvas's float32 sees it. */
export interface Pen {
  readonly context: CanvasRenderingContext2D;
  readonly view: Viewport;
  x(metres: number): number;
  y(metres: number): number;
  sees(bounds: Bounds): boolean;
  /** Adds the visible parts of a polyline to the current path. */
  trace(line: FlatLine): void;
}

/** Far enough that a clipped end's line cap is not seen. */
const MARGIN_PX = 40;

export function penOn(context: CanvasRenderingContext2D, view: Viewport): Pen {
  const shown = shownBounds(view, MARGIN_PX);
  const x = (metres: number) => screenX(view, metres);
  const y = (metres: number) => screenY(view, metres);
  return {
    context,
    view,
    x,
    y,
    sees: (b) => b.minX <= shown.maxX && b.maxX >= shown.minX && b.minY <= shown.maxY && b.maxY >= shown.minY,
    trace(line) {
      let penDown = false;
      for (let i = 0; i + 3 < line.length; i += 2) {
        const part = clipped(line[i]!, line[i + 1]!, line[i + 2]!, line[i + 3]!, shown);
        if (!part) {
          penDown = false;
          continue;
        }
        const [ax, ay, bx, by] = part;
        if (!penDown || ax !== line[i] || ay !== line[i + 1]) context.moveTo(x(ax), y(ay));
        context.lineTo(x(bx), y(by));
        penDown = bx === line[i + 2] && by === line[i + 3];
      }
    },
  };
}

/** The part of a segment inside the bounds. Source: Liang & Barsky, ACM Trans. Graphics 3 (1984) 1 (from memory). */
function clipped(
  ax: number,
  ay: number,
  bx: number,
  by: number,
  within: Bounds,
): [number, number, number, number] | null {
  let from = 0;
  let to = 1;
  const dx = bx - ax;
  const dy = by - ay;
  for (const [p, q] of [
    [-dx, ax - within.minX],
    [dx, within.maxX - ax],
    [-dy, ay - within.minY],
    [dy, within.maxY - ay],
  ] as const) {
    if (p === 0) {
      if (q < 0) return null;
      continue;
    }
    const t = q / p;
    if (p < 0) from = Math.max(from, t);
    else to = Math.min(to, t);
    if (from > to) return null;
  }
  return [
    from === 0 ? ax : ax + from * dx,
    from === 0 ? ay : ay + from * dy,
    to === 1 ? bx : ax + to * dx,
    to === 1 ? by : ay + to * dy,
  ];
}
