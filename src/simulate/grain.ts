import { type Random, randomFrom } from '../maths/random.ts';

const LENGTH = 1 << 18;

/** Prepared normal numbers for the noise of the colour camera; one table a process, the same for every world. */
const normals = (() => {
  let table: Float32Array | null = null;
  return () => {
    if (!table) {
      const random = randomFrom(4);
      table = Float32Array.from({ length: LENGTH }, () => random.normal());
    }
    return table;
  };
})();

/** Adds shot and read noise (sd = sqrt(read^2 + shot * level), DN) to an RGB picture, each row from another place of the table. */
export function addGrain(
  random: Random,
  rgb: Uint8Array | Uint8ClampedArray,
  widthPx: number,
  readDn: number,
  shotDn: number,
): void {
  const table = normals();
  const sd = Float32Array.from({ length: 256 }, (_, v) => Math.sqrt(readDn * readDn + shotDn * v));
  const rowLength = 3 * widthPx;
  for (let start = 0; start < rgb.length; start += rowLength) {
    let n = Math.floor(random.uniform() * (LENGTH - rowLength));
    const end = start + rowLength;
    for (let i = start; i < end; i++) {
      const v = rgb[i]!;
      const noisy = v + sd[v]! * table[n++]! + 0.5;
      rgb[i] = Math.max(0, Math.min(255, noisy));
    }
  }
}
