import type { FilterHits } from './spotFilter.ts';

/** Connected regions of hits (8 neighbours), in order of their first pixel; the lists are borrowed until the next frame. */
export interface RegionList {
  count: number;
  /** Pixels of region r: `pixels[pixelsFrom[r]]` to before `pixelsFrom[r + 1]`, in order. */
  pixels: Int32Array;
  pixelsFrom: Int32Array;
  /** Its local maxima, pixels that no neighbour exceeds, strongest first: `peaks[peaksFrom[r]]` to before `peaksFrom[r + 1]`. */
  peaks: Int32Array;
  peaksFrom: Int32Array;
}

/**
 * Groups hits into regions; works on the sorted list of hits alone, in time proportional to their number: the neighbours of
 * one hit in the row above are a stretch of the list that moves on as the hit does. No map of the image is kept,
 * as fetching a few scattered lines of one costs more than all the rest. Hits in the first or last column would be
 * neighbours across the border; there are none.
 */
export class HitRegions {
  readonly #widthPx: number;
  readonly #list: RegionList = {
    count: 0,
    pixels: new Int32Array(0),
    pixelsFrom: new Int32Array(1),
    peaks: new Int32Array(0),
    peaksFrom: new Int32Array(1),
  };
  #parent = new Int32Array(0);
  #regionOf = new Int32Array(0);
  #isPeak = new Uint8Array(0);

  constructor(widthPx: number) {
    this.#widthPx = widthPx;
  }

  /** Borrowed: valid until the next call. */
  borrow(hits: FilterHits): RegionList {
    const { count, pixel, excess } = hits;
    this.#makeRoom(count);
    this.#joinNeighbours(count, pixel, excess);
    const list = this.#list;
    const { pixels, pixelsFrom, peaks, peaksFrom } = list;
    const parent = this.#parent;
    const regionOf = this.#regionOf;
    const isPeak = this.#isPeak;
    // Sizes first, two places on, so that filling the lists turns them into where each region begins.
    list.count = 0;
    pixelsFrom.fill(0, 0, count + 2);
    peaksFrom.fill(0, 0, count + 2);
    for (let i = 0; i < count; i++) {
      // A root is the first hit of its region, as the smaller index always becomes the parent.
      const root = rootOf(parent, i);
      const region = root === i ? list.count++ : regionOf[root];
      regionOf[i] = region;
      pixelsFrom[region + 2]++;
      peaksFrom[region + 2] += isPeak[i];
    }
    for (let r = 2; r < list.count + 2; r++) {
      pixelsFrom[r] += pixelsFrom[r - 1];
      peaksFrom[r] += peaksFrom[r - 1];
    }
    for (let i = 0; i < count; i++) {
      const region = regionOf[i];
      pixels[pixelsFrom[region + 1]++] = pixel[i];
      if (isPeak[i] === 1) peaks[peaksFrom[region + 1]++] = i;
    }
    for (let r = 0; r < list.count; r++)
      for (let k = peaksFrom[r] + 1; k < peaksFrom[r + 1]; k++) {
        // By falling excess; among equals the first stays first.
        const peak = peaks[k];
        let to = k;
        for (; to > peaksFrom[r] && excess[peaks[to - 1]] < excess[peak]; to--) peaks[to] = peaks[to - 1];
        peaks[to] = peak;
      }
    for (let k = 0; k < peaksFrom[list.count]; k++) peaks[k] = pixel[peaks[k]];
    return list;
  }

  #makeRoom(count: number): void {
    const list = this.#list;
    if (list.pixels.length >= count && list.pixelsFrom.length >= count + 2) return;
    list.pixels = new Int32Array(2 * count);
    list.peaks = new Int32Array(2 * count);
    list.pixelsFrom = new Int32Array(2 * count + 2);
    list.peaksFrom = new Int32Array(2 * count + 2);
    this.#parent = new Int32Array(2 * count);
    this.#regionOf = new Int32Array(2 * count);
    this.#isPeak = new Uint8Array(2 * count);
  }

  #joinNeighbours(count: number, pixel: Int32Array, excess: Int32Array): void {
    const w = this.#widthPx;
    const parent = this.#parent;
    const isPeak = this.#isPeak;
    let above = 0;
    for (let i = 0; i < count; i++) {
      parent[i] = i;
      isPeak[i] = 1;
      const p = pixel[i];
      while (pixel[above] < p - w - 1) above++;
      for (let j = above; j < i && pixel[j] <= p - w + 1; j++) meet(parent, isPeak, excess, j, i);
      if (i > 0 && pixel[i - 1] === p - 1) meet(parent, isPeak, excess, i - 1, i);
    }
  }
}

/** Two neighbours are of one region, and one of them is no peak: among equals the first counts, so that a plateau has one. */
function meet(parent: Int32Array, isPeak: Uint8Array, excess: Int32Array, earlier: number, later: number): void {
  const a = rootOf(parent, earlier);
  const b = rootOf(parent, later);
  if (a < b) parent[b] = a;
  else parent[a] = b;
  isPeak[excess[later] > excess[earlier] ? earlier : later] = 0;
}

function rootOf(parent: Int32Array, i: number): number {
  let at = i;
  while (parent[at] !== at) {
    parent[at] = parent[parent[at]];
    at = parent[at];
  }
  return at;
}
