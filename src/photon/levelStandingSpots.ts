import { filterMapInto } from './spotFilter.ts';

const medianOf = (values: Float64Array): number => values.sort()[values.length >> 1];

/**
 * Takes spots out of a dark level that was learned while something shone in one place all the time, and puts the level
 * of the columns and rows around in their stead. A single hot pixel is left: it is darkness of a kind, and its
 * neighbours do not rise with it. Changes `meanDn` in place; returns how many pixels it changed.
 */
export function levelStandingSpots(
  meanDn: Float32Array,
  noiseDn: Float32Array,
  widthPx: number,
  heightPx: number,
): number {
  const columnDn = new Float64Array(widthPx);
  const rowDn = new Float64Array(heightPx);
  const inColumn = new Float64Array(heightPx);
  for (let x = 0; x < widthPx; x++) {
    for (let y = 0; y < heightPx; y++) inColumn[y] = meanDn[y * widthPx + x];
    columnDn[x] = medianOf(inColumn);
  }
  const inRow = new Float64Array(widthPx);
  for (let y = 0; y < heightPx; y++) {
    for (let x = 0; x < widthPx; x++) inRow[x] = meanDn[y * widthPx + x] - columnDn[x];
    rowDn[y] = medianOf(inRow);
  }
  const rest = new Float32Array(meanDn.length);
  for (let y = 0; y < heightPx; y++)
    for (let x = 0; x < widthPx; x++) {
      const i = y * widthPx + x;
      rest[i] = meanDn[i] - columnDn[x] - rowDn[y];
    }
  const filtered = new Float32Array(meanDn.length);
  filterMapInto(filtered, rest, widthPx, heightPx, false);
  const sample = new Float64Array(Math.ceil(filtered.length / 37));
  for (let k = 0; k < sample.length; k++) sample[k] = Math.abs(filtered[k * 37]);
  const scatter = 1.4826 * medianOf(sample);
  // A weak source that fires in one frame of ten lifts the level of its pixels by a tenth of a spot at most, and the
  // clip removes that. What stands in the level is far above the pattern; 10 scatters keep the pattern itself.
  const limit = Math.max(10 * scatter, 32);
  const standing = new Uint8Array(meanDn.length);
  for (let y = 3; y < heightPx - 3; y++)
    for (let x = 3; x < widthPx - 3; x++) {
      const i = y * widthPx + x;
      if (filtered[i] < limit) continue;
      let largest = 0;
      for (let dy = -2; dy <= 2; dy++)
        for (let dx = -2; dx <= 2; dx++) largest = Math.max(largest, rest[i + dy * widthPx + dx]);
      if (filtered[i] - 4 * largest < limit / 2) continue; // one hot pixel alone explains it
      for (let dy = -3; dy <= 3; dy++) for (let dx = -3; dx <= 3; dx++) standing[i + dy * widthPx + dx] = 1;
    }
  const typicalNoise = medianOf(Float64Array.from({ length: sample.length }, (_, k) => noiseDn[k * 37]));
  let changed = 0;
  for (let i = 0; i < standing.length; i++) {
    if (!standing[i]) continue;
    const x = i % widthPx;
    meanDn[i] = columnDn[x] + rowDn[(i - x) / widthPx];
    noiseDn[i] = typicalNoise;
    changed++;
  }
  return changed;
}
