/**
 * The matched filter of the scan: weights [1 2 2 2 1] down times [1 2 2 2 1] across, near enough to a Gaussian spot of
 * sigma 1 to 1.6 px (94 % of the signal-to-noise ratio of the exact filter at 1.3 px), and made of additions alone.
 * It is linear, so the dark level is never subtracted from a frame: the filtered frame is compared with a filtered
 * dark level plus a margin, folded into integers beforehand.
 */
export const FILTER_GAIN = 64;

/** Filtered values at or above the threshold, in order of pixel. Reused from frame to frame; `count` entries are valid. */
export interface FilterHits {
  count: number;
  pixel: Int32Array;
  /** Filtered value less the threshold, >= 0. */
  excess: Int32Array;
}

export const emptyHits = (): FilterHits => ({ count: 0, pixel: new Int32Array(4096), excess: new Int32Array(4096) });

/** Makes room for `count` hits; what was there is lost. */
export function growHits(hits: FilterHits, count: number): void {
  if (count <= hits.pixel.length) return;
  hits.pixel = new Int32Array(2 * count);
  hits.excess = new Int32Array(2 * count);
}

export function pushHit(hits: FilterHits, pixel: number, excess: number): void {
  if (hits.count === hits.pixel.length) {
    const { pixel: pixels, excess: excesses } = hits;
    growHits(hits, hits.count + 1);
    hits.pixel.set(pixels);
    hits.excess.set(excesses);
  }
  hits.pixel[hits.count] = pixel;
  hits.excess[hits.count++] = excess;
}

/** The same filter on a map of numbers (dark level, or variance with squared weights); 0 where no whole filter fits. */
export function filterMapInto(
  out: Float32Array,
  map: Float32Array,
  widthPx: number,
  heightPx: number,
  squaredWeights: boolean,
): void {
  const m = squaredWeights ? 4 : 2;
  const w = widthPx;
  const column = new Float64Array(w);
  out.fill(0);
  for (let y = 2; y < heightPx - 2; y++) {
    const r = y * w;
    for (let x = 0; x < w; x++) {
      const i = r + x;
      column[x] = map[i - 2 * w] + map[i + 2 * w] + m * (map[i - w] + map[i] + map[i + w]);
    }
    for (let x = 2; x < w - 2; x++)
      out[r + x] = column[x - 2] + column[x + 2] + m * (column[x - 1] + column[x] + column[x + 1]);
  }
}
