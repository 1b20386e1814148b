import type { FilterHits } from './spotFilter.ts';

/** A connected region of hits (8 neighbours) and the local maxima of the filtered frame in it. */
export interface HitRegion {
  readonly pixels: Int32Array;
  /** Pixels that no neighbour exceeds, strongest first. */
  readonly peaks: Int32Array;
}

/** Groups hits into regions; works on the hits alone, in time proportional to their number. Keeps one map of the image. */
export class HitRegions {
  readonly #widthPx: number;
  /** 1 + index of the hit at a pixel, 0 elsewhere; cleared after every frame. */
  readonly #hitAt: Int32Array;

  constructor(widthPx: number, heightPx: number) {
    this.#widthPx = widthPx;
    // One row of zeros above and below, and one pixel, so that neighbours need no bounds.
    this.#hitAt = new Int32Array(widthPx * (heightPx + 2) + 2);
  }

  /** Regions in order of their first pixel. */
  find(hits: FilterHits): HitRegion[] {
    const { count, pixel, excess } = hits;
    const w = this.#widthPx;
    const hitAt = this.#hitAt;
    const first = w + 1;
    const parent = new Int32Array(count);
    const rootOf = (i: number): number => {
      while (parent[i] !== i) {
        parent[i] = parent[parent[i]];
        i = parent[i];
      }
      return i;
    };
    for (let i = 0; i < count; i++) {
      parent[i] = i;
      const p = pixel[i] + first;
      hitAt[p] = i + 1;
      for (let s = 0; s < 4; s++) {
        const q = s === 0 ? p - 1 : p - w - 2 + s;
        if (hitAt[q] === 0) continue;
        const a = rootOf(hitAt[q] - 1);
        const b = rootOf(i);
        if (a < b) parent[b] = a;
        else parent[a] = b;
      }
    }
    // Regions in order of their first hit; the hits of each in order of pixel.
    const regionOf = new Int32Array(count);
    const sizes: number[] = [];
    for (let i = 0; i < count; i++) {
      const root = rootOf(i);
      // A root is the first hit of its region, as the smaller index always becomes the parent.
      regionOf[i] = root === i ? sizes.push(0) - 1 : regionOf[root];
      sizes[regionOf[i]]++;
    }
    const regions = sizes.map((size) => ({ pixels: new Int32Array(size), peaks: [] as number[] }));
    const filled = new Int32Array(sizes.length);
    const steps = [-w - 1, -w, -w + 1, -1, 1, w - 1, w, w + 1];
    for (let i = 0; i < count; i++) {
      const region = regionOf[i];
      regions[region].pixels[filled[region]++] = pixel[i];
      const p = pixel[i] + first;
      let isPeak = true;
      for (let s = 0; isPeak && s < 8; s++) {
        const j = hitAt[p + steps[s]] - 1;
        // Among equals the first counts, so that a plateau has one peak.
        isPeak = !(j >= 0 && (excess[j] > excess[i] || (excess[j] === excess[i] && j < i)));
      }
      if (isPeak) regions[region].peaks.push(i);
    }
    for (let i = 0; i < count; i++) hitAt[pixel[i] + first] = 0;
    return regions.map(({ pixels, peaks }) => {
      if (peaks.length > 1) peaks.sort((a, b) => excess[b] - excess[a] || a - b);
      const peakPixels = new Int32Array(peaks.length);
      for (let k = 0; k < peaks.length; k++) peakPixels[k] = pixel[peaks[k]];
      return { pixels, peaks: peakPixels };
    });
  }
}
