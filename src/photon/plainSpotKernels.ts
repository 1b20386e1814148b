import { type Depth, MOST_CLIP, NEVER, type SpotKernels } from './SpotKernels.ts';
import { pushHit } from './spotFilter.ts';

const { fround } = Math;

/** The twin of `simdSpotKernels`: for engines without SIMD, and what it is tested against. Several times slower. */
export function plainSpotKernels(widthPx: number, heightPx: number, depth: Depth): SpotKernels {
  const w = widthPx;
  const h = heightPx;
  const n = w * h;
  const most = depth === 8 ? 255 : 65535;
  const ofPixels = (): Uint8Array | Uint16Array => (depth === 8 ? new Uint8Array(n) : new Uint16Array(n));
  const meanDn = new Float32Array(n);
  const noiseDn = new Float32Array(n);
  const thresholds = new Int32Array(n).fill(NEVER[depth]);
  const [frame, reference, clip, count] = [ofPixels(), ofPixels(), ofPixels(), ofPixels()];
  const sum = depth === 8 ? new Int16Array(n) : new Int32Array(n);
  const squares = depth === 8 ? new Uint16Array(n) : new Uint32Array(n);
  const columns = new Int32Array(w);
  const levels = new Float32Array(w);
  const variances = new Float32Array(w);
  let taken = frame;

  return {
    form: 'plain',
    frame,
    meanDn,
    noiseDn,
    reference,
    clip,
    count,
    sum,
    squares,

    take(data) {
      taken = data;
    },

    settle(sigmas) {
      const bySigmas = fround(sigmas.clip);
      for (let i = 0; i < n; i++) {
        reference[i] = Math.max(0, Math.min(most, Math.floor(fround(meanDn[i] + 0.5))));
        clip[i] = Math.min(MOST_CLIP[depth], Math.ceil(fround(fround(bySigmas * noiseDn[i]) + 1)));
      }
      const k = fround(sigmas.threshold);
      const square = (i: number): number => fround(noiseDn[i] * noiseDn[i]);
      // Sums in single precision and in the order of the kernel, so that the last bit agrees.
      const ofFive = (a: number, b: number, c: number, d: number, e: number, inner: number): number =>
        fround(fround(a + e) + fround(inner * fround(fround(b + c) + d)));
      for (let y = 2; y < h - 2; y++) {
        const r = y * w;
        for (let x = 0; x < w; x++) {
          const i = r + x;
          levels[x] = ofFive(meanDn[i - 2 * w], meanDn[i - w], meanDn[i], meanDn[i + w], meanDn[i + 2 * w], 2);
          variances[x] = ofFive(square(i - 2 * w), square(i - w), square(i), square(i + w), square(i + 2 * w), 4);
        }
        for (let x = 2; x < w - 2; x++) {
          const level = ofFive(levels[x - 2], levels[x - 1], levels[x], levels[x + 1], levels[x + 2], 2);
          const variance = ofFive(
            variances[x - 2],
            variances[x - 1],
            variances[x],
            variances[x + 1],
            variances[x + 2],
            4,
          );
          const limit = Math.ceil(fround(level + fround(k * fround(Math.sqrt(variance)))));
          thresholds[r + x] = Math.max(0, Math.min(NEVER[depth], limit));
        }
      }
    },

    scanInto(hits, levelFiltered) {
      hits.count = 0;
      const data = taken;
      for (let y = 2; y < h - 2; y++) {
        const r = y * w;
        for (let x = 0; x < w; x++) {
          const i = r + x;
          columns[x] = data[i - 2 * w] + data[i + 2 * w] + 2 * (data[i - w] + data[i] + data[i + w]);
        }
        for (let x = 2; x < w - 2; x++) {
          const f = columns[x - 2] + columns[x + 2] + 2 * (columns[x - 1] + columns[x] + columns[x + 1]);
          const excess = f - thresholds[r + x] - levelFiltered;
          if (excess >= 0) pushHit(hits, r + x, excess);
        }
      }
    },

    fold(level, firstRow, rowStep) {
      const up = Math.max(level, 0);
      const down = Math.max(-level, 0);
      for (let y = firstRow; y < h; y += rowStep) {
        const end = (y + 1) * w;
        for (let i = y * w; i < end; i++) {
          const d = taken[i] - Math.max(0, Math.min(most, reference[i] + up) - down);
          if (d > clip[i] || d < -clip[i]) continue;
          count[i]++;
          sum[i] += d;
          squares[i] += d * d;
        }
      }
    },

    clearSums() {
      count.fill(0);
      sum.fill(0);
      squares.fill(0);
    },
  };
}
