import { directionOf, type TrueLens } from './TrueLens.ts';

/**
 * Undistorted tangents (x/z, y/z) of the direction of every `step`-th pixel and one beyond the border, two numbers a node,
 * row by row. Between nodes linear interpolation is good to 1e-3 px at a step of 1 or 2.
 */
export interface RayMap {
  readonly columns: number;
  readonly rows: number;
  readonly step: number;
  readonly tangents: Float32Array;
}

export function rayMap(lens: TrueLens, step: number): RayMap {
  const columns = Math.ceil(lens.widthPx / step) + 1;
  const rows = Math.ceil(lens.heightPx / step) + 1;
  const tangents = new Float32Array(2 * columns * rows);
  for (let r = 0, i = 0; r < rows; r++) {
    for (let c = 0; c < columns; c++, i += 2) {
      const [x, y] = directionOf(lens, c * step, r * step);
      tangents[i] = x;
      tangents[i + 1] = y;
    }
  }
  return { columns, rows, step, tangents };
}
