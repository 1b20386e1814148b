import type { ColourFrame } from '../camera/GreyFrame.ts';
import { fitEllipse } from './patterns/fitEllipse.ts';
import { type GreyImage, greyImage } from './patterns/GreyImage.ts';

export interface FoundDisc {
  /** Centre of the ellipse, or centroid of a small one; the perspective bias of a tilted disc is still in it. */
  readonly u: number;
  readonly v: number;
  readonly sigmaPx: number;
  readonly areaPx: number;
  /** Length of the short axis over the long one, from the second moments. */
  readonly axisRatio: number;
  /** Diameter of the hole over that of the ring; 0 for a disc. */
  readonly holeShare: number;
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
 * ellipse of possible size in dark surroundings, with or without a hole; centred by grey-level moments, which blur and
 * sampling do not bias, and from 5 px of radius on by an ellipse through the edge, which shading does not bias either.
 * The largest first.
 */
export function findDiscs(frame: ColourFrame, search: DiscSearch): FoundDisc[] {
  const { widthPx, heightPx } = frame;
  const { grey } = greyImage(frame);
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
      const disc = measure({ widthPx, heightPx, grey }, region, search);
      if (disc) found.push(disc);
    }
  return found.sort((a, b) => b.areaPx - a.areaPx).slice(0, search.most);
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

function measure(image: GreyImage, region: readonly number[], search: DiscSearch): FoundDisc | null {
  const { widthPx, heightPx, grey } = image;
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
  // A hole counts as filled, so that what is measured is the outline.
  const { isHole, holePx } = holeIn(region, widthPx, left, right, top, bottom);
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
      const inHole = isHole[(y - top) * (right - left + 1) + x - left] === 1;
      const w = inHole ? 1 : Math.min(1, (grey[y * widthPx + x] - foot) * rise);
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
  const holeShare = Math.sqrt(holePx / areaPx) < LEAST_HOLE ? 0 : Math.sqrt(holePx / areaPx);
  const shape = { areaPx, axisRatio, holeShare };
  const shortPx = 2 * Math.sqrt(half - root);
  if (shortPx >= ELLIPSE_FROM_PX) {
    const k = 1 / (4 * det);
    const start = { u: cx + mx, v: cy + my, xx: vyy * k, xy: -vxy * k, yy: vxx * k };
    // To either side as far as the surfaces go: half the ring's width, and the margin that the board leaves round a disc.
    const ellipse = fitEllipse(
      image,
      start,
      Math.min(6, 0.3 * shortPx, Math.max(1.5, 0.5 * (1 - holeShare) * shortPx)),
    );
    if (ellipse && ellipse.rmsPx < 0.4 && Math.hypot(ellipse.u - start.u, ellipse.v - start.v) < 0.1 * shortPx)
      return { u: ellipse.u, v: ellipse.v, sigmaPx: Math.hypot(ellipse.sigmaPx, 0.01), ...shape };
  }
  // Noise of the pixels through the centroid; a hundredth of a pixel for what sampling and compression leave.
  const sigmaPx = Math.hypot((noise * rise * Math.sqrt(spread / 2)) / mass, 0.01);
  return { u: cx + mx, v: cy + my, sigmaPx, ...shape };
}

/** Short half axis from which the edge is long enough to be better than the area, px. */
const ELLIPSE_FROM_PX = 5;
/** A smaller hole is a scratch. */
const LEAST_HOLE = 0.15;

/** Pixels of the box that the region encloses. */
function holeIn(
  region: readonly number[],
  widthPx: number,
  left: number,
  right: number,
  top: number,
  bottom: number,
): { readonly isHole: Uint8Array; readonly holePx: number } {
  const w = right - left + 1;
  const h = bottom - top + 1;
  const isHole = new Uint8Array(w * h).fill(1);
  for (const at of region) {
    const x = at % widthPx;
    isHole[((at - x) / widthPx - top) * w + x - left] = 0;
  }
  // What can be reached from the box's corner, which is outside, is no hole.
  const stack = [0];
  isHole[0] = 2;
  while (stack.length > 0) {
    const at = stack.pop()!;
    const x = at % w;
    for (const [next, ok] of [
      [at - 1, x > 0],
      [at + 1, x < w - 1],
      [at - w, at >= w],
      [at + w, at < w * (h - 1)],
    ] as const)
      if (ok && isHole[next] === 1) {
        isHole[next] = 2;
        stack.push(next);
      }
  }
  let holePx = 0;
  for (let i = 0; i < isHole.length; i++) {
    if (isHole[i] === 2) isHole[i] = 0;
    holePx += isHole[i];
  }
  return { isHole, holePx };
}
