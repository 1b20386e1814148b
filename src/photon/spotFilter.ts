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

/** What stands in the threshold map where no whole filter fits: never reached. */
export const NEVER = 20000;

/**
 * Thresholds in the layout of the scan. `scalar` has one value a pixel. `even` and `odd` (8 bit images whose width is a
 * multiple of 4 only) hold two thresholds a word: for the 4 pixels that start at column 4 j, columns +2 and +4 in
 * `even[j]`, +3 and +5 in `odd[j]`, each for the filter centred there.
 */
export interface ThresholdMap {
  readonly scalar: Int32Array;
  readonly even: Int32Array | null;
  readonly odd: Int32Array | null;
}

export function packThresholds(scalar: Int32Array, widthPx: number, heightPx: number, eightBit: boolean): ThresholdMap {
  if (!eightBit || widthPx % 4 !== 0) return { scalar, even: null, odd: null };
  const words = widthPx >> 2;
  const even = new Int32Array(words * heightPx);
  const odd = new Int32Array(words * heightPx);
  const at = (x: number, y: number): number =>
    x < 2 || x >= widthPx - 2 ? NEVER : Math.max(0, Math.min(NEVER, scalar[y * widthPx + x]));
  for (let y = 0; y < heightPx; y++) {
    for (let j = 0; j < words; j++) {
      const x = 4 * j;
      even[y * words + j] = at(x + 2, y) | (at(x + 4, y) << 16);
      odd[y * words + j] = at(x + 3, y) | (at(x + 5, y) << 16);
    }
  }
  return { scalar, even, odd };
}

function push(hits: FilterHits, pixel: number, excess: number): void {
  if (hits.count === hits.pixel.length) {
    const grow = (old: Int32Array): Int32Array => {
      const grown = new Int32Array(old.length * 2);
      grown.set(old);
      return grown;
    };
    hits.pixel = grow(hits.pixel);
    hits.excess = grow(hits.excess);
  }
  hits.pixel[hits.count] = pixel;
  hits.excess[hits.count++] = excess;
}

/**
 * Finds all pixels where the filtered frame reaches threshold + `levelFiltered`.
 * @param data          frame, row by row, not kept
 * @param levelFiltered common shift of this frame's dark level times FILTER_GAIN, whole number, |.| < 8000 for 8 bit
 * @param scratch       from `filterScratch` for this width
 */
export function scanInto(
  hits: FilterHits,
  data: Uint8Array | Uint16Array,
  widthPx: number,
  heightPx: number,
  thresholds: ThresholdMap,
  levelFiltered: number,
  scratch: FilterScratch,
): void {
  hits.count = 0;
  if (data instanceof Uint8Array && thresholds.even && thresholds.odd) {
    // A view of words needs an aligned start; a frame cut out of a larger file may lack it.
    const aligned = data.byteOffset % 4 === 0 ? data : Uint8Array.from(data);
    const words = new Int32Array(aligned.buffer, aligned.byteOffset, aligned.length >> 2);
    scanWords(hits, words, widthPx, heightPx, thresholds.even, thresholds.odd, levelFiltered, scratch);
  } else {
    scanPixels(hits, data, widthPx, heightPx, thresholds.scalar, levelFiltered, scratch);
  }
}

export interface FilterScratch {
  readonly a: Int32Array;
  readonly b: Int32Array;
  readonly c: Int32Array;
  readonly d: Int32Array;
}

export const filterScratch = (widthPx: number): FilterScratch => ({
  a: new Int32Array(widthPx + 8),
  b: new Int32Array(widthPx + 8),
  c: new Int32Array(widthPx + 8),
  d: new Int32Array(widthPx + 8),
});

/** The plain form: any width, any depth, and what the word-wise form is tested against. */
export function scanPixels(
  hits: FilterHits,
  data: Uint8Array | Uint16Array,
  widthPx: number,
  heightPx: number,
  thresholds: Int32Array,
  levelFiltered: number,
  scratch: FilterScratch,
): void {
  const column = scratch.a;
  for (let y = 2; y < heightPx - 2; y++) {
    const r = y * widthPx;
    const w = widthPx;
    for (let x = 0; x < w; x++) {
      const i = r + x;
      column[x] = data[i - 2 * w] + data[i + 2 * w] + 2 * (data[i - w] + data[i] + data[i + w]);
    }
    for (let x = 2; x < w - 2; x++) {
      const f = column[x - 2] + column[x + 2] + 2 * (column[x - 1] + column[x] + column[x + 1]);
      const excess = f - thresholds[r + x] - levelFiltered;
      if (excess >= 0) push(hits, r + x, excess);
    }
  }
}

/**
 * Four pixels at a time: two 16 bit lanes a word, even and odd columns apart. A filtered value is at most 64 · 255, so a
 * lane never overflows, and bit 15 of (value + 0x8000 - threshold) tells value >= threshold in both lanes at once.
 */
function scanWords(
  hits: FilterHits,
  frame: Int32Array,
  widthPx: number,
  heightPx: number,
  thresholdEven: Int32Array,
  thresholdOdd: Int32Array,
  levelFiltered: number,
  scratch: FilterScratch,
): void {
  const words = widthPx >> 2;
  const M = 0x00ff00ff;
  const H = 0x80008000 | 0;
  const bias = (0x8000 - levelFiltered) | 0;
  const B = (bias | 0) + (bias << 16);
  const four = { e: scratch.a, o: scratch.b }; // sums of the last four rows
  const five = { e: scratch.c, o: scratch.d }; // [1 2 2 2 1] down
  four.e.fill(0);
  four.o.fill(0);
  five.e.fill(0);
  five.o.fill(0);
  for (let y = 0; y < heightPx; y++) {
    const row = y * words;
    const oldRow = row - 4 * words;
    if (y < 4) {
      for (let j = 0; j < words; j++) {
        const w = frame[row + j];
        const e = four.e[j];
        const o = four.o[j];
        const e2 = (e + (w & M)) | 0;
        const o2 = (o + ((w >>> 8) & M)) | 0;
        four.e[j] = e2;
        four.o[j] = o2;
        five.e[j] = (e + e2) | 0;
        five.o[j] = (o + o2) | 0;
      }
      continue;
    }
    for (let j = 0; j < words; j++) {
      const w = frame[row + j];
      const old = frame[oldRow + j];
      const e = four.e[j];
      const o = four.o[j];
      const e2 = (e + (w & M) - (old & M)) | 0;
      const o2 = (o + ((w >>> 8) & M) - ((old >>> 8) & M)) | 0;
      four.e[j] = e2;
      four.o[j] = o2;
      five.e[j] = (e + e2) | 0;
      five.o[j] = (o + o2) | 0;
    }
    const centre = (y - 2) * words;
    let e0 = five.e[0];
    let o0 = five.o[0];
    for (let j = 0; j < words; j++) {
      const e1 = five.e[j + 1];
      const o1 = five.o[j + 1];
      const e0s = (e0 >>> 16) | (e1 << 16);
      const t = (e0s + ((o0 >>> 16) | (o1 << 16))) | 0;
      const fe = (((e0 + e1) | 0) + ((o0 + t) << 1)) | 0;
      const fo = (((o0 + o1) | 0) + ((e1 + t) << 1)) | 0;
      const me = (fe + B - thresholdEven[centre + j]) | 0;
      const mo = (fo + B - thresholdOdd[centre + j]) | 0;
      if (((me | mo) & H) !== 0) {
        const pixel = ((centre + j) << 2) + 2;
        if (me & 0x8000) push(hits, pixel, me & 0x7fff);
        if (mo & 0x8000) push(hits, pixel + 1, mo & 0x7fff);
        if (me & 0x80000000) push(hits, pixel + 2, (me >>> 16) & 0x7fff);
        if (mo & 0x80000000) push(hits, pixel + 3, (mo >>> 16) & 0x7fff);
      }
      e0 = e1;
      o0 = o1;
    }
  }
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
