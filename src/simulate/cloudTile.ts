import type { Random } from '../maths/random.ts';

export const TILE = 512;

/** A square of smooth noise in [0, 1] that repeats seamlessly: octaves of interpolated lattice noise, each half as strong. */
export function cloudTile(random: Random): Float32Array {
  const tile = new Float32Array(TILE * TILE);
  let total = 0;
  for (let cells = 8, strength = 1; cells <= 256; cells *= 2, strength *= 0.55) {
    const lattice = Float32Array.from({ length: cells * cells }, () => random.uniform());
    const size = TILE / cells;
    total += strength;
    for (let y = 0; y < TILE; y++) {
      const cy = Math.floor(y / size);
      const fy = smooth(y / size - cy);
      for (let x = 0; x < TILE; x++) {
        const cx = Math.floor(x / size);
        const fx = smooth(x / size - cx);
        const at = (i: number, j: number) => lattice[((cy + j) % cells) * cells + ((cx + i) % cells)]!;
        const top = at(0, 0) + fx * (at(1, 0) - at(0, 0));
        const bottom = at(0, 1) + fx * (at(1, 1) - at(0, 1));
        tile[y * TILE + x]! += strength * (top + fy * (bottom - top));
      }
    }
  }
  // Octaves of uniform noise crowd about the middle; stretched so that patches differ.
  return tile.map((v) => Math.min(1, Math.max(0, 0.5 + 1.9 * (v / total - 0.5))));
}

const smooth = (t: number): number => t * t * (3 - 2 * t);

/** The tile at a place given in cells of it: nearest. */
export const tileAt = (tile: Float32Array, x: number, y: number): number =>
  tile[(Math.floor(y) & (TILE - 1)) * TILE + (Math.floor(x) & (TILE - 1))]!;

/** The same, interpolated. */
export function tileBetween(tile: Float32Array, x: number, y: number): number {
  const x0 = Math.floor(x);
  const y0 = Math.floor(y);
  const fx = x - x0;
  const top = (y0 & (TILE - 1)) * TILE;
  const bottom = ((y0 + 1) & (TILE - 1)) * TILE;
  const left = x0 & (TILE - 1);
  const right = (x0 + 1) & (TILE - 1);
  const a = tile[top + left]! + fx * (tile[top + right]! - tile[top + left]!);
  const b = tile[bottom + left]! + fx * (tile[bottom + right]! - tile[bottom + left]!);
  return a + (y - y0) * (b - a);
}
