import type { ColourFrame } from '../camera/GreyFrame.ts';

export interface FoundDisc {
  /** Centroid of the bright area; the perspective bias of a tilted disc is still in it. */
  readonly u: number;
  readonly v: number;
  readonly sigmaPx: number;
  readonly areaPx: number;
  /** Length of the short axis over the long one, from the second moments. */
  readonly axisRatio: number;
}

export interface DiscSearch {
  /** Areas of a disc that are possible at the ranges of the sweep, px. */
  readonly leastAreaPx: number;
  readonly mostAreaPx: number;
  readonly most: number;
}

/** Side of the blocks that a local threshold is made for, px. */
const BLOCK = 16;
/** A disc stands out from its board by this much at least, of 255. */
const LEAST_CONTRAST = 25;

/**
 * Bright discs on a dark board: connected regions above a local threshold, kept where their shape is that of a filled
 * ellipse of possible size in dark surroundings; centred by grey-level moments, which blur and sampling do not bias.
 * The largest first.
 */
export function findDiscs(frame: ColourFrame, search: DiscSearch): FoundDisc[] {
  const { widthPx, heightPx } = frame;
  const grey = greyOf(frame);
  const threshold = localThreshold(grey, widthPx, heightPx, Math.sqrt(search.mostAreaPx));
  const seen = new Uint8Array(grey.length);
  const stack: number[] = [];
  const found: FoundDisc[] = [];
  const blocksAcross = Math.ceil(widthPx / BLOCK);
  const isBright = (at: number, x: number, y: number): boolean =>
    grey[at] > threshold[((y / BLOCK) | 0) * blocksAcross + ((x / BLOCK) | 0)];
  for (let y = 1; y < heightPx - 1; y++)
    for (let x = 1; x < widthPx - 1; x++) {
      const start = y * widthPx + x;
      if (seen[start] || !isBright(start, x, y)) continue;
      seen[start] = 1;
      stack.push(start);
      const region: number[] = [];
      let touchesBorder = false;
      while (stack.length > 0) {
        const at = stack.pop()!;
        region.push(at);
        const px = at % widthPx;
        const py = (at - px) / widthPx;
        if (px <= 1 || py <= 1 || px >= widthPx - 2 || py >= heightPx - 2) {
          touchesBorder = true;
          continue;
        }
        for (const next of [at - 1, at + 1, at - widthPx, at + widthPx]) {
          if (seen[next]) continue;
          const nx = next % widthPx;
          if (isBright(next, nx, (next - nx) / widthPx)) {
            seen[next] = 1;
            stack.push(next);
          }
        }
      }
      if (touchesBorder || region.length < search.leastAreaPx / 2 || region.length > 2 * search.mostAreaPx) continue;
      const disc = measure(grey, widthPx, heightPx, region, search);
      if (disc) found.push(disc);
    }
  return found.sort((a, b) => b.areaPx - a.areaPx).slice(0, search.most);
}

function greyOf(frame: ColourFrame): Uint8Array {
  const grey = new Uint8Array(frame.widthPx * frame.heightPx);
  const { data } = frame;
  // Luminance in 8-bit weights (ITU-R BT.601).
  for (let i = 0, k = 0; i < grey.length; i++, k += 3)
    grey[i] = (77 * data[k] + 150 * data[k + 1] + 29 * data[k + 2]) >> 8;
  return grey;
}

/** Half-way between the darkest and the brightest block nearby; out of reach where they do not differ enough. */
function localThreshold(grey: Uint8Array, widthPx: number, heightPx: number, discPx: number): Float32Array {
  const across = Math.ceil(widthPx / BLOCK);
  const down = Math.ceil(heightPx / BLOCK);
  const darkest = new Uint8Array(across * down).fill(255);
  const brightest = new Uint8Array(across * down);
  for (let y = 0; y < heightPx; y++) {
    const row = ((y / BLOCK) | 0) * across;
    for (let x = 0; x < widthPx; x++) {
      const block = row + ((x / BLOCK) | 0);
      const value = grey[y * widthPx + x];
      if (value < darkest[block]) darkest[block] = value;
      if (value > brightest[block]) brightest[block] = value;
    }
  }
  const reach = Math.max(1, Math.ceil(discPx / BLOCK));
  const out = new Float32Array(across * down);
  for (let j = 0; j < down; j++)
    for (let i = 0; i < across; i++) {
      let low = 255;
      let high = 0;
      for (let y = Math.max(0, j - reach); y <= Math.min(down - 1, j + reach); y++)
        for (let x = Math.max(0, i - reach); x <= Math.min(across - 1, i + reach); x++) {
          low = Math.min(low, darkest[y * across + x]);
          high = Math.max(high, brightest[y * across + x]);
        }
      out[j * across + i] = high - low >= LEAST_CONTRAST ? (low + high) / 2 : 256;
    }
  return out;
}

function measure(
  grey: Uint8Array,
  widthPx: number,
  heightPx: number,
  region: readonly number[],
  search: DiscSearch,
): FoundDisc | null {
  let left = widthPx;
  let right = 0;
  let top = heightPx;
  let bottom = 0;
  for (const at of region) {
    const x = at % widthPx;
    const y = (at - x) / widthPx;
    left = Math.min(left, x);
    right = Math.max(right, x);
    top = Math.min(top, y);
    bottom = Math.max(bottom, y);
  }
  const margin = 3;
  left -= margin;
  right += margin;
  top -= margin;
  bottom += margin;
  if (left < 1 || top < 1 || right >= widthPx - 1 || bottom >= heightPx - 1) return null;
  // The frame round the box is the board, or what is brighter beyond its rim: its lower quarter is the ground.
  const ring: number[] = [];
  for (let x = left; x <= right; x++) ring.push(grey[top * widthPx + x], grey[bottom * widthPx + x]);
  for (let y = top + 1; y < bottom; y++) ring.push(grey[y * widthPx + left], grey[y * widthPx + right]);
  ring.sort((a, b) => a - b);
  const ground = ring[Math.floor(0.25 * ring.length)];
  const noise = Math.max(1, (ground - ring[Math.floor(0.05 * ring.length)]) / 0.97); // quantiles of a normal law
  const levels = region.map((at) => grey[at]).sort((a, b) => a - b);
  const top90 = levels[Math.floor(0.9 * levels.length)];
  const contrast = top90 - ground;
  if (contrast < LEAST_CONTRAST || contrast < 5 * noise) return null;
  // Bright things in the surroundings mean that this is a part of something larger.
  if (ring[Math.floor(0.95 * ring.length)] > ground + contrast / 2) return null;

  // Weights rise from 0 to 1 between three and seven tenths of the contrast: neither what lies beyond the board's rim
  // nor shading across the disc then moves the centroid, only the disc's own edge does.
  const foot = ground + 0.3 * contrast;
  const rise = 1 / (0.4 * contrast);
  let mass = 0;
  let sx = 0;
  let sy = 0;
  let sxx = 0;
  let sxy = 0;
  let syy = 0;
  let spread = 0;
  const cx = (left + right) / 2;
  const cy = (top + bottom) / 2;
  for (let y = top + 1; y < bottom; y++)
    for (let x = left + 1; x < right; x++) {
      const w = Math.min(1, (grey[y * widthPx + x] - foot) * rise);
      if (w <= 0) continue;
      const dx = x - cx;
      const dy = y - cy;
      mass += w;
      sx += w * dx;
      sy += w * dy;
      sxx += w * dx * dx;
      sxy += w * dx * dy;
      syy += w * dy * dy;
      if (w < 1) spread += dx * dx + dy * dy;
    }
  if (!(mass > 0)) return null;
  const mx = sx / mass;
  const my = sy / mass;
  const vxx = sxx / mass - mx * mx;
  const vxy = sxy / mass - mx * my;
  const vyy = syy / mass - my * my;
  const det = vxx * vyy - vxy * vxy;
  if (!(det > 0)) return null;
  const areaPx = mass;
  if (areaPx < search.leastAreaPx || areaPx > search.mostAreaPx) return null;
  // A filled ellipse has area 4 pi sqrt(det of its second moments); blur adds to the moments of small ones.
  const filled = areaPx / (4 * Math.PI * Math.sqrt(det));
  if (filled < 0.55 || filled > 1.25) return null;
  const half = (vxx + vyy) / 2;
  const root = Math.sqrt(Math.max(0, half * half - det));
  const axisRatio = Math.sqrt((half - root) / (half + root));
  if (axisRatio < 0.4) return null;
  // Noise of the pixels through the centroid; a hundredth of a pixel for what sampling and compression leave.
  const sigmaPx = Math.hypot((noise * rise * Math.sqrt(spread / 2)) / mass, 0.01);
  return { u: cx + mx, v: cy + my, sigmaPx, areaPx, axisRatio };
}
