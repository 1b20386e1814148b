import type { GreyImage } from './GreyImage.ts';

/** A place where four squares of a chessboard may meet. */
export interface ChessCorner {
  readonly x: number;
  readonly y: number;
  readonly strength: number;
}

const RADIUS = 5;
/** Sixteen places on a circle of 5 px about the corner. */
const RING: readonly (readonly [number, number])[] = [
  [0, 5],
  [2, 5],
  [3, 3],
  [5, 2],
  [5, 0],
  [5, -2],
  [3, -3],
  [2, -5],
  [0, -5],
  [-2, -5],
  [-3, -3],
  [-5, -2],
  [-5, 0],
  [-5, 2],
  [-3, 3],
  [-2, 5],
];
/** Of the strongest one; weaker ones are texture. */
const LEAST_SHARE = 0.15;
/** Of a possible 16 x 255: a corner of 20 grey levels of contrast gives about 8 x 20. */
const LEAST_STRENGTH = 120;

/**
 * Corners where dark and bright quadrants alternate, to a pixel, the strongest first: opposite places of a ring are alike,
 * those a quarter turn apart differ; edges, discs and plain corners give nothing.
 * Source: Bennett & Lasenby, ChESS, Computer Vision and Image Understanding 118 (2014) 197 (from memory).
 */
export function chessCorners({ widthPx, heightPx, grey }: GreyImage, most: number): ChessCorner[] {
  const offsets = Int32Array.from(RING, ([x, y]) => y * widthPx + x);
  const response = new Float32Array(grey.length);
  let strongest = 0;
  for (let y = RADIUS; y < heightPx - RADIUS; y++)
    for (let x = RADIUS; x < widthPx - RADIUS; x++) {
      const at = y * widthPx + x;
      // Two of the four crosses give away most plain places at once.
      const first = grey[at + offsets[0]] + grey[at + offsets[8]] - grey[at + offsets[4]] - grey[at + offsets[12]];
      const second = grey[at + offsets[2]] + grey[at + offsets[10]] - grey[at + offsets[6]] - grey[at + offsets[14]];
      if (Math.abs(first) < 12 && Math.abs(second) < 12) continue;
      let sum = 0;
      let difference = 0;
      let ring = 0;
      for (let i = 0; i < 4; i++) {
        const a = grey[at + offsets[i]];
        const b = grey[at + offsets[i + 4]];
        const c = grey[at + offsets[i + 8]];
        const d = grey[at + offsets[i + 12]];
        sum += Math.abs(a + c - b - d);
        difference += Math.abs(a - c) + Math.abs(b - d);
        ring += a + b + c + d;
      }
      const local = grey[at] + grey[at - 1] + grey[at + 1] + grey[at - widthPx] + grey[at + widthPx];
      const value = sum - difference - 16 * Math.abs(ring / 16 - local / 5);
      if (value <= 0) continue;
      response[at] = value;
      if (value > strongest) strongest = value;
    }
  const least = Math.max(LEAST_STRENGTH, LEAST_SHARE * strongest);
  const found: ChessCorner[] = [];
  for (let y = RADIUS; y < heightPx - RADIUS; y++)
    for (let x = RADIUS; x < widthPx - RADIUS; x++) {
      const at = y * widthPx + x;
      const value = response[at];
      if (value < least || !isPeak(response, widthPx, at)) continue;
      // The centre of gravity of the peak, to start the refinement near enough.
      let mass = 0;
      let mx = 0;
      let my = 0;
      for (let j = -2; j <= 2; j++)
        for (let i = -2; i <= 2; i++) {
          const w = response[at + j * widthPx + i];
          mass += w;
          mx += w * i;
          my += w * j;
        }
      found.push({ x: x + mx / mass, y: y + my / mass, strength: value });
    }
  return found.sort((a, b) => b.strength - a.strength).slice(0, most);
}

function isPeak(response: Float32Array, widthPx: number, at: number): boolean {
  for (let j = -3; j <= 3; j++)
    for (let i = -3; i <= 3; i++) {
      const there = response[at + j * widthPx + i];
      // Of equal ones the first in reading order is the peak.
      if (there > response[at] || (there === response[at] && (j < 0 || (j === 0 && i < 0)))) return false;
    }
  return true;
}
