import { roundLengthM } from '../../../src/report/scaleBar.ts';
import type { Ink } from '../shell/theme.ts';
import { drawHardware } from './drawHardware.ts';
import { drawSightings } from './drawSightings.ts';
import { Labels } from './Labels.ts';
import { type Pen, penOn } from './Pen.ts';
import type { FindingItem, FlatLine, ItemRef, SheetItems } from './SheetItems.ts';
import { type Viewport, worldX, worldY } from './Viewport.ts';

export interface SheetStyle {
  readonly ink: Ink;
  readonly devicePixels: number;
  readonly shows: { readonly tracks: boolean; readonly sightings: boolean; readonly names: boolean };
  readonly words: {
    readonly north: string;
    readonly heightsStretched: (times: number) => string;
    readonly metres: (m: number) => string;
    /** Of a component: `clear from 1.2 × 10⁸ photons/s`; empty where its state needs no words. */
    readonly limit: (limitHz: number) => string;
  };
  /** Drawn over the rest: passes of a plan, for instance. */
  readonly extra?: readonly { readonly line: FlatLine; readonly dash: readonly number[] }[];
  /** The ground is drawn by a map below: the sheet leaves it clear. */
  readonly overMap?: boolean;
}

const FONT = '11px Inter, sans-serif';
const FONT_HEAVY = '600 12px Inter, sans-serif';

/** Draws the whole sheet: ground first, findings last. Pure in its arguments but for the canvas. */
export function drawSheet(
  context: CanvasRenderingContext2D,
  view: Viewport,
  items: SheetItems,
  style: SheetStyle,
  chosen: ItemRef | null,
): void {
  const { ink } = style;
  const pen = penOn(context, view);
  context.setTransform(style.devicePixels, 0, 0, style.devicePixels, 0, 0);
  context.clearRect(0, 0, view.widthPx, view.heightPx);
  if (!style.overMap) {
    context.fillStyle = ink.paper;
    context.fillRect(0, 0, view.widthPx, view.heightPx);
  }
  const labels = new Labels(context, view.widthPx, view.heightPx);
  // Room for the scale bar and the north arrow.
  labels.keepOff(0, view.heightPx - 34, 190, 34);
  labels.keepOff(view.widthPx - 34, 0, 34, 44);
  drawGrid(pen, ink, style);
  if (style.shows.tracks) drawTracks(pen, items, ink);
  for (const extra of style.extra ?? []) {
    context.setLineDash([...extra.dash]);
    stroke(pen, extra.line, ink.ink, 1.5);
    context.setLineDash([]);
  }
  drawWires(pen, items, ink, chosen);
  drawStructures(pen, items, ink, chosen);
  // Below 2 px a metre hardware is a blot; the structure's own mark then speaks for it.
  const hardwareShown = view.pxPerM >= 2;
  if (hardwareShown)
    for (const item of items.hardware)
      if (pen.sees(item.bounds)) drawHardware(pen, item, ink, chosen?.kind === 'component' && chosen.id === item.id);
  if (style.shows.sightings) drawSightings(context, view, items, ink, style.devicePixels);
  for (const finding of items.findings)
    drawFinding(pen, finding, ink, chosen?.kind === 'finding' && chosen.id === finding.id);
  drawChosen(pen, items, chosen, ink);

  if (style.shows.names) {
    for (const f of items.findings) labels.keepOff(pen.x(f.at[0]) - 5, pen.y(f.at[1]) - 5, 10, 10);
    for (const f of items.findings)
      if (inView(pen, f.at))
        labels.put(f.label, pen.x(f.at[0]), pen.y(f.at[1]), 9, ink.ultraviolet, ink.paper, FONT_HEAVY);
    for (const s of items.structures) {
      const at = items.aspect === 'plan' ? s.foot : s.top;
      if (inView(pen, at)) labels.put(s.id, pen.x(at[0]), pen.y(at[1]), 9, ink.ink, ink.paper, FONT_HEAVY);
    }
    // Close enough to ask about one string: each component's limit beside it.
    if (view.pxPerM >= 25)
      for (const item of items.hardware) {
        const { coverage } = item.about;
        const at: readonly [number, number] = [
          (item.bounds.minX + item.bounds.maxX) / 2,
          (item.bounds.minY + item.bounds.maxY) / 2,
        ];
        if (!inView(pen, at)) continue;
        const words =
          coverage.state === 'clear' && coverage.limitHz !== null ? style.words.limit(coverage.limitHz) : '';
        const text = words ? `${item.id}  ${words}` : item.id;
        labels.put(text, pen.x(at[0]), pen.y(at[1]), 14, ink.soft, ink.paper, FONT);
      }
  }
  drawScaleBar(pen, ink, style);
  if (items.aspect === 'plan') drawNorth(pen, ink, style.words.north);
}

const inView = ({ view, x, y }: Pen, [mx, my]: readonly [number, number]): boolean =>
  x(mx) > -20 && x(mx) < view.widthPx + 20 && y(my) > -20 && y(my) < view.heightPx + 20;

function stroke(pen: Pen, line: FlatLine, colour: string, width: number): void {
  const { context } = pen;
  context.beginPath();
  pen.trace(line);
  context.strokeStyle = colour;
  context.lineWidth = width;
  context.stroke();
}

/** A grid of round metres with its figures on the frame, as on any survey sheet. */
function drawGrid(pen: Pen, ink: Ink, style: SheetStyle): void {
  const { context: c, view } = pen;
  const stepX = roundLengthM((view.widthPx / view.pxPerM) * 0.24);
  const stepY = roundLengthM(Math.max((view.heightPx / (view.pxPerM * view.stretch)) * 0.4, 0.01));
  c.strokeStyle = ink.faint;
  c.lineWidth = 1;
  c.fillStyle = ink.soft;
  c.font = FONT;
  c.beginPath();
  const ticksX: number[] = [];
  const ticksY: number[] = [];
  for (let i = Math.ceil(worldX(view, 0) / stepX); i * stepX <= worldX(view, view.widthPx); i++) ticksX.push(i * stepX);
  for (let i = Math.ceil(worldY(view, view.heightPx) / stepY); i * stepY <= worldY(view, 0); i++)
    ticksY.push(i * stepY);
  for (const x of ticksX) {
    const px = Math.round(pen.x(x)) + 0.5;
    c.moveTo(px, 0);
    c.lineTo(px, view.heightPx);
  }
  for (const y of ticksY) {
    const py = Math.round(pen.y(y)) + 0.5;
    c.moveTo(0, py);
    c.lineTo(view.widthPx, py);
  }
  c.stroke();
  c.textBaseline = 'top';
  c.textAlign = 'left';
  for (const x of ticksX) if (pen.x(x) < view.widthPx - 90) c.fillText(style.words.metres(x), pen.x(x) + 4, 4);
  c.textBaseline = 'bottom';
  for (const y of ticksY)
    if (pen.y(y) > 34 && pen.y(y) < view.heightPx - 40) c.fillText(style.words.metres(y), 4, pen.y(y) - 2);
}

function drawTracks(pen: Pen, items: SheetItems, ink: Ink): void {
  pen.context.setLineDash([7, 4]);
  for (const track of items.tracks) stroke(pen, track.line, ink.mark, 1);
  pen.context.setLineDash([]);
}

function drawWires(pen: Pen, items: SheetItems, ink: Ink, chosen: ItemRef | null): void {
  const { context, view } = pen;
  for (const wire of items.wires) {
    if (!pen.sees(wire.bounds)) continue;
    const { state } = wire.about.coverage;
    const own = chosen?.kind === 'component' && chosen.id === wire.id;
    context.setLineDash(state === 'not seen' ? [2, 3] : []);
    const thickness = Math.max(
      wire.about.kind === 'earth wire' ? 0.75 : 1,
      2 * (wire.about.bundle?.radiusM ?? 0) * view.pxPerM,
    );
    stroke(
      pen,
      wire.line,
      state === 'finding' ? ink.ultraviolet : state === 'clear' ? ink.ink : ink.mark,
      Math.min(thickness, 12) + (state === 'finding' ? 0.6 : 0) + (own ? 2 : 0),
    );
  }
  context.setLineDash([]);
}

function drawStructures(pen: Pen, items: SheetItems, ink: Ink, chosen: ItemRef | null): void {
  const { context: c } = pen;
  for (const s of items.structures) {
    const x = pen.x(s.foot[0]);
    const y = pen.y(s.foot[1]);
    const topX = pen.x(s.top[0]);
    const topY = pen.y(s.top[1]);
    if (Math.max(x, topX) < -30 || Math.min(x, topX) > pen.view.widthPx + 30) continue;
    const own = chosen?.kind === 'structure' && chosen.id === s.id;
    c.strokeStyle = ink.ink;
    c.fillStyle = s.kind === 'tension' ? ink.ink : ink.paper;
    c.lineWidth = own ? 3 : 1.5;
    if (items.aspect !== 'plan') {
      const half = Math.min(8, Math.max(2, Math.abs(topY - y) * 0.06));
      c.beginPath();
      c.moveTo(x - half, y);
      c.lineTo(topX, topY);
      c.lineTo(x + half, y);
      c.stroke();
    }
    const r = own ? 6 : 4.5;
    c.beginPath();
    c.rect(x - r, y - r, 2 * r, 2 * r);
    c.fill();
    c.stroke();
    if (s.notSeen) {
      c.beginPath();
      c.moveTo(x - 9, y - 9);
      c.lineTo(x + 9, y + 9);
      c.moveTo(x - 9, y + 9);
      c.lineTo(x + 9, y - 9);
      c.lineWidth = 1;
      c.stroke();
    }
  }
}

/** A finding: its 95 % ellipse true to scale, and a mark that stays in sight: filled where action is wanted soon. */
function drawFinding(pen: Pen, finding: FindingItem, ink: Ink, chosen: boolean): void {
  const { context: c, view } = pen;
  const x = pen.x(finding.at[0]);
  const y = pen.y(finding.at[1]);
  if (!inView(pen, finding.at)) return;
  const { a, b, angleRad } = finding.ellipse;
  if (a * view.pxPerM > 5) {
    c.save();
    c.translate(x, y);
    c.scale(view.pxPerM, view.pxPerM * view.stretch);
    c.beginPath();
    c.ellipse(0, 0, a, Math.max(b, 1e-6), -angleRad, 0, 2 * Math.PI);
    c.restore();
    c.globalAlpha = 0.12;
    c.fillStyle = ink.ultraviolet;
    c.fill();
    c.globalAlpha = 1;
    c.strokeStyle = ink.ultraviolet;
    c.lineWidth = 1.25;
    c.stroke();
  }
  c.beginPath();
  c.arc(x, y, chosen ? 6.5 : 4.5, 0, 2 * Math.PI);
  c.fillStyle = finding.urgent ? ink.ultraviolet : ink.paper;
  c.fill();
  c.strokeStyle = finding.urgent ? ink.paper : ink.ultraviolet;
  c.lineWidth = finding.urgent ? 1 : 1.75;
  c.stroke();
  if (finding.decision !== 'open') {
    // Decided: a tick for confirmed, a bar for rejected, in the mark itself.
    c.beginPath();
    if (finding.decision === 'confirmed') {
      c.moveTo(x - 2.2, y);
      c.lineTo(x - 0.4, y + 2);
      c.lineTo(x + 2.6, y - 2);
    } else {
      c.moveTo(x - 2.4, y);
      c.lineTo(x + 2.4, y);
    }
    c.strokeStyle = finding.urgent ? ink.paper : ink.ultraviolet;
    c.lineWidth = 1.5;
    c.stroke();
  }
}

/** Corner marks round what is chosen: they hide nothing and need no colour. */
function drawChosen(pen: Pen, items: SheetItems, chosen: ItemRef | null, ink: Ink): void {
  if (!chosen) return;
  const at = placeOf(items, chosen);
  if (!at) return;
  const { context: c } = pen;
  const x0 = pen.x(at.minX) - 12;
  const x1 = pen.x(at.maxX) + 12;
  const y0 = pen.y(at.maxY) - 12;
  const y1 = pen.y(at.minY) + 12;
  c.strokeStyle = ink.ink;
  c.lineWidth = 2;
  c.beginPath();
  for (const [x, sx] of [
    [x0, 1],
    [x1, -1],
  ] as const)
    for (const [y, sy] of [
      [y0, 1],
      [y1, -1],
    ] as const) {
      c.moveTo(x, y + 7 * sy);
      c.lineTo(x, y);
      c.lineTo(x + 7 * sx, y);
    }
  c.stroke();
}

/** Where something lies on the sheet; null where it is not on it. */
export function placeOf(
  items: SheetItems,
  ref: ItemRef,
): { minX: number; maxX: number; minY: number; maxY: number } | null {
  if (ref.kind === 'finding') {
    const found = items.findings.find((f) => f.id === ref.id);
    return found ? { minX: found.at[0], maxX: found.at[0], minY: found.at[1], maxY: found.at[1] } : null;
  }
  if (ref.kind === 'component')
    return (items.hardware.find((c) => c.id === ref.id) ?? items.wires.find((c) => c.id === ref.id))?.bounds ?? null;
  if (ref.kind === 'sighting') {
    const [x, y] = [items.sightings[2 * ref.index], items.sightings[2 * ref.index + 1]];
    return x === undefined || y === undefined ? null : { minX: x, maxX: x, minY: y, maxY: y };
  }
  const s = items.structures.find((structure) => structure.id === ref.id);
  return s
    ? {
        minX: Math.min(s.foot[0], s.top[0]),
        maxX: Math.max(s.foot[0], s.top[0]),
        minY: Math.min(s.foot[1], s.top[1]),
        maxY: Math.max(s.foot[1], s.top[1]),
      }
    : null;
}

function drawScaleBar(pen: Pen, ink: Ink, style: SheetStyle): void {
  const { context: c, view } = pen;
  const lengthM = roundLengthM(130 / view.pxPerM);
  const length = lengthM * view.pxPerM;
  const y = view.heightPx - 14;
  c.fillStyle = ink.paper;
  c.globalAlpha = 0.85;
  c.fillRect(6, y - 18, Math.max(length, 60) + 90, 28);
  c.globalAlpha = 1;
  c.strokeStyle = ink.ink;
  c.lineWidth = 1.5;
  c.beginPath();
  c.moveTo(12, y - 5);
  c.lineTo(12, y);
  c.lineTo(12 + length, y);
  c.lineTo(12 + length, y - 5);
  c.stroke();
  c.fillStyle = ink.ink;
  c.font = FONT;
  c.textAlign = 'left';
  c.textBaseline = 'bottom';
  const stretched = view.stretch > 1.01 ? `  ${style.words.heightsStretched(view.stretch)}` : '';
  c.fillText(style.words.metres(lengthM) + stretched, 17, y - 2);
}

function drawNorth(pen: Pen, ink: Ink, word: string): void {
  const { context: c, view } = pen;
  const x = view.widthPx - 18;
  c.strokeStyle = ink.ink;
  c.lineWidth = 1.5;
  c.beginPath();
  c.moveTo(x, 38);
  c.lineTo(x, 10);
  c.moveTo(x - 4, 17);
  c.lineTo(x, 9);
  c.lineTo(x + 4, 17);
  c.stroke();
  c.font = FONT_HEAVY;
  c.fillStyle = ink.ink;
  c.textAlign = 'right';
  c.textBaseline = 'middle';
  c.fillText(word, x - 7, 14);
}
