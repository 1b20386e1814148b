import type { BoardKind, InventedBench } from './World.ts';

/** Side of a square, squares along x and y, and share of a bright square that its marker fills (0: plain chessboard). */
export const CHECKS: Readonly<Record<Exclude<BoardKind, 'discs' | 'rings'>, Checks>> = {
  chessboard: { squareM: 0.1, columns: 10, rows: 7, markerShare: 0 },
  'coded board': { squareM: 0.2, columns: 7, rows: 5, markerShare: 0.7 },
};
export interface Checks {
  readonly squareM: number;
  readonly columns: number;
  readonly rows: number;
  readonly markerShare: number;
}

/** Diameter of the hole of a ring over that of the ring. */
export const HOLE_SHARE = 0.5;

/**
 * The first markers of the open dictionary of 4 x 4 bits and 50 words, row by row from the highest bit, 1 is bright.
 * Source: generateImageMarker of OpenCV 5.0.
 */
export const MARKER_WORDS = [
  0xb532, 0x0f9a, 0x332d, 0x9946, 0x549e, 0x79cd, 0x9e2e, 0xc4f2, 0xfeda, 0xcf56, 0xf991, 0x11a7, 0x0eb7, 0x2a0f,
  0x24b1, 0x263e, 0x4665,
] as const;

/** Whether a place of a board is bright, its middle at (0, 0). */
export function isBrightAt(x: number, y: number, { board, marks, boardSizeM }: InventedBench): boolean {
  if (board === 'discs' || board === 'rings') {
    for (const { discM, discDiameterM } of marks) {
      const d = Math.hypot(x - discM[0], y - discM[1]) / (discDiameterM / 2);
      if (d < 1) return board === 'discs' || d > HOLE_SHARE;
    }
    return false;
  }
  const { squareM, columns, markerShare } = CHECKS[board];
  const [sx, sy] = [(x + boardSizeM[0] / 2) / squareM, (y + boardSizeM[1] / 2) / squareM];
  const [column, row] = [Math.floor(sx), Math.floor(sy)];
  // The first square is dark; bright ones carry the markers, numbered row by row.
  if ((column + row) % 2 === 0) return false;
  if (markerShare === 0) return true;
  const edge = (1 - markerShare) / 2;
  const [mx, my] = [(sx - column - edge) / markerShare, (sy - row - edge) / markerShare];
  if (mx < 0 || my < 0 || mx >= 1 || my >= 1) return true;
  const [bx, by] = [Math.floor(6 * mx) - 1, Math.floor(6 * my) - 1];
  if (bx < 0 || by < 0 || bx > 3 || by > 3) return false;
  const number = (row * columns + column - 1) >> 1;
  return ((MARKER_WORDS[number]! >> (15 - (4 * by + bx))) & 1) === 1;
}
