import type { Ink } from '../shell/theme.ts';
import type { SheetItems } from './SheetItems.ts';
import type { Viewport } from './Viewport.ts';

/** Above this many in view, dots are set as pixels in one image: fifty thousand arcs would take a tenth of a second. */
const MOST_ARCS = 1500;

/** Every sighting as a dot: violet where it went into a finding, a small ring where it was not believed. */
export function drawSightings(
  context: CanvasRenderingContext2D,
  view: Viewport,
  items: SheetItems,
  ink: Ink,
  devicePixels: number,
): void {
  const { sightings, suspect } = items;
  const n = suspect.length;
  const kx = view.pxPerM;
  const ky = view.pxPerM * view.stretch;
  const ox = view.widthPx / 2;
  const oy = view.heightPx / 2;
  const seen: number[] = [];
  for (let i = 0; i < n; i++) {
    const x = (sightings[2 * i]! - view.centreX) * kx + ox;
    const y = (view.centreY - sightings[2 * i + 1]!) * ky + oy;
    if (x > -4 && y > -4 && x < view.widthPx + 4 && y < view.heightPx + 4) seen.push(i);
  }
  if (seen.length > MOST_ARCS) {
    setPixels(context, view, items, seen, ink, devicePixels);
    return;
  }
  for (const believed of [false, true]) {
    context.beginPath();
    for (const i of seen) {
      if ((suspect[i] === 0) !== believed) continue;
      const x = (sightings[2 * i]! - view.centreX) * kx + ox;
      const y = (view.centreY - sightings[2 * i + 1]!) * ky + oy;
      const r = believed ? 1.6 : 2.2;
      context.moveTo(x + r, y);
      context.arc(x, y, r, 0, 2 * Math.PI);
    }
    if (believed) {
      context.fillStyle = ink.ultraviolet;
      context.fill();
    } else {
      context.strokeStyle = ink.mark;
      context.lineWidth = 0.8;
      context.stroke();
    }
  }
}

let scratch: { canvas: OffscreenCanvas; image: ImageData } | null = null;

function setPixels(
  context: CanvasRenderingContext2D,
  view: Viewport,
  { sightings, suspect }: SheetItems,
  seen: readonly number[],
  ink: Ink,
  devicePixels: number,
): void {
  const width = Math.round(view.widthPx * devicePixels);
  const height = Math.round(view.heightPx * devicePixels);
  if (scratch?.image.width !== width || scratch.image.height !== height)
    scratch = { canvas: new OffscreenCanvas(width, height), image: new ImageData(width, height) };
  const words = new Uint32Array(scratch.image.data.buffer);
  words.fill(0);
  const doubt = littleEndianPixel(ink.mark);
  const believed = littleEndianPixel(ink.ultraviolet);
  const kx = view.pxPerM * devicePixels;
  const ky = kx * view.stretch;
  // What was not believed first, so that it never covers what was.
  for (const wanted of [1, 0])
    for (const i of seen) {
      if (suspect[i] !== wanted) continue;
      const x = Math.round((sightings[2 * i]! - view.centreX) * kx + width / 2);
      const y = Math.round((view.centreY - sightings[2 * i + 1]!) * ky + height / 2);
      if (x < 1 || y < 1 || x >= width - 1 || y >= height - 1) continue;
      const word = wanted === 1 ? doubt : believed;
      const at = y * width + x;
      words[at] = word;
      words[at + 1] = word;
      words[at + width] = word;
      words[at + width + 1] = word;
    }
  scratch.canvas.getContext('2d')!.putImageData(scratch.image, 0, 0);
  context.drawImage(scratch.canvas, 0, 0, view.widthPx, view.heightPx);
}

/** `#rrggbb` as the 32 bits of an opaque pixel in memory (every machine that runs a browser is little endian). */
function littleEndianPixel(hex: string): number {
  const rgb = Number.parseInt(hex.slice(1), 16);
  return ((0xff << 24) | ((rgb & 0xff) << 16) | (rgb & 0xff00) | (rgb >> 16)) >>> 0;
}
