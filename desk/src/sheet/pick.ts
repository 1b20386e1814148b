import type { FlatLine, ItemRef, SheetItems } from './SheetItems.ts';
import { screenX, screenY, type Viewport } from './Viewport.ts';

/** Fingers are wider than pointers; the caller says which it was. */
export type Reach = 10 | 22;

/** What lies nearest to a pixel: findings before hardware, hardware before structures, sightings only where nothing else is. */
export function pick(
  items: SheetItems,
  view: Viewport,
  atX: number,
  atY: number,
  reachPx: Reach,
  sightings: boolean,
): ItemRef | null {
  let best: { ref: ItemRef; rank: number; px: number } | null = null;
  const offer = (ref: ItemRef, rank: number, px: number): void => {
    if (px > reachPx) return;
    if (!best || rank < best.rank || (rank === best.rank && px < best.px)) best = { ref, rank, px };
  };
  const gap = ([x, y]: readonly [number, number]): number => Math.hypot(screenX(view, x) - atX, screenY(view, y) - atY);
  for (const f of items.findings) offer({ kind: 'finding', id: f.id }, 0, gap(f.at));
  if (view.pxPerM >= 2)
    for (const c of items.hardware) offer({ kind: 'component', id: c.id }, 1, gapToLine(view, c.line, atX, atY));
  for (const s of items.structures) {
    const ends = Float64Array.of(...s.foot, ...s.top);
    offer({ kind: 'structure', id: s.id }, 2, gapToLine(view, ends, atX, atY));
  }
  for (const w of items.wires) offer({ kind: 'component', id: w.id }, 3, gapToLine(view, w.line, atX, atY));
  if (sightings)
    for (let i = 0; i < items.suspect.length; i++)
      offer({ kind: 'sighting', index: i }, 4, gap([items.sightings[2 * i]!, items.sightings[2 * i + 1]!]));
  return (best as { ref: ItemRef } | null)?.ref ?? null;
}

function gapToLine(view: Viewport, line: FlatLine, atX: number, atY: number): number {
  let least = Number.POSITIVE_INFINITY;
  let ax = screenX(view, line[0]!);
  let ay = screenY(view, line[1]!);
  if (line.length === 2) return Math.hypot(ax - atX, ay - atY);
  for (let i = 2; i + 1 < line.length; i += 2) {
    const bx = screenX(view, line[i]!);
    const by = screenY(view, line[i + 1]!);
    const dx = bx - ax;
    const dy = by - ay;
    const square = dx * dx + dy * dy;
    const t = square > 0 ? Math.min(1, Math.max(0, ((atX - ax) * dx + (atY - ay) * dy) / square)) : 0;
    least = Math.min(least, Math.hypot(ax + t * dx - atX, ay + t * dy - atY));
    ax = bx;
    ay = by;
  }
  return least;
}
