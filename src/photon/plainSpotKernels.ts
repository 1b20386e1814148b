import { probedDarkness, probeFrame, probeRuns } from './probeFrame.ts';
import { BLOCK_COLUMNS, BLOCK_ROWS, type Depth, FOLD, MOST_CLIP, NEVER, type SpotKernels } from './SpotKernels.ts';
import { type FilterHits, pushHit } from './spotFilter.ts';

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
  const across = BLOCK_COLUMNS[depth];
  /** Blocks that are not cut off by the border: only these get a first look. */
  const wholeAcross = Math.max(0, Math.floor((w - 4) / across));
  const wholeDown = Math.max(0, Math.floor((h - 4) / BLOCK_ROWS));
  /** Of box i, j, which starts at column 2 i + 1, row 2 j + 1. */
  const boxesAcross = (wholeAcross * across) / 2;
  const boxThresholds = new Int32Array(boxesAcross * wholeDown * (BLOCK_ROWS / 2));
  let firstLook = false;
  const columns = new Int32Array(across + 4);
  const levels = new Float32Array(w);
  const variances = new Float32Array(w);
  const probes = probedDarkness(probeRuns(n));
  let taken = frame;

  /** Whether any box in block g, b reaches its threshold. */
  function isLit(g: number, b: number, level: number): boolean {
    for (let j = b * (BLOCK_ROWS / 2); j < (b + 1) * (BLOCK_ROWS / 2); j++)
      for (let i = (g * across) / 2; i < ((g + 1) * across) / 2; i++) {
        let sum = 0;
        for (let y = 2 * j + 1; y < 2 * j + 5; y++) for (let x = 2 * i + 1; x < 2 * i + 5; x++) sum += taken[y * w + x];
        if (sum - level >= boxThresholds[j * boxesAcross + i]) return true;
      }
    return false;
  }

  /** The filter in row y at the centres of the block that starts at column `left`. */
  function matchRow(hits: FilterHits, y: number, left: number, level: number): void {
    const end = Math.min(across + 4, w - left);
    for (let x = 0; x < end; x++) {
      const i = y * w + left + x;
      columns[x] = taken[i - 2 * w] + taken[i + 2 * w] + 2 * (taken[i - w] + taken[i] + taken[i + w]);
    }
    for (let x = 2; x < end - 2; x++) {
      const f = columns[x - 2] + columns[x + 2] + 2 * (columns[x - 1] + columns[x] + columns[x + 1]);
      const i = y * w + left + x;
      const excess = f - thresholds[i] - level;
      if (excess >= 0) pushHit(hits, i, excess);
    }
  }

  return {
    form: 'plain',
    frames: [frame],
    meanDn,
    noiseDn,
    reference,
    clip,
    count,
    sum,
    squares,
    probes,

    take(data) {
      taken = data;
    },

    probe: () => probeFrame(taken, probes),

    settle(sigmas) {
      const bySigmas = fround(sigmas.clip);
      for (let i = 0; i < n; i++) {
        reference[i] = Math.max(0, Math.min(most, Math.floor(fround(meanDn[i] + 0.5))));
        clip[i] = Math.min(MOST_CLIP[depth], Math.ceil(fround(fround(bySigmas * noiseDn[i]) + 1)));
      }
      firstLook = sigmas.firstLook > 0;
      const k1 = fround(sigmas.firstLook);
      const k = fround(sigmas.threshold);
      const square = (i: number): number => fround(noiseDn[i] * noiseDn[i]);
      // Sums in single precision and in the order of the kernel, so that the last bit agrees.
      const ofFive = (a: number, b: number, c: number, d: number, e: number, inner: number): number =>
        fround(fround(a + e) + fround(inner * fround(fround(b + c) + d)));
      const ofFour = (a: number, b: number, c: number, d: number): number => fround(fround(a + d) + fround(b + c));
      const reaching = (level: number, sigma: number, variance: number): number =>
        Math.max(0, Math.min(NEVER[depth], Math.ceil(fround(level + fround(sigma * fround(Math.sqrt(variance)))))));
      for (let j = 0; firstLook && j < wholeDown * (BLOCK_ROWS / 2); j++) {
        const r = (2 * j + 1) * w;
        for (let x = 0; x < w; x++) {
          const i = r + x;
          levels[x] = ofFour(meanDn[i], meanDn[i + w], meanDn[i + 2 * w], meanDn[i + 3 * w]);
          variances[x] = ofFour(square(i), square(i + w), square(i + 2 * w), square(i + 3 * w));
        }
        for (let i = 0; i < boxesAcross; i++) {
          const x = 2 * i + 1;
          const level = ofFour(levels[x], levels[x + 1], levels[x + 2], levels[x + 3]);
          const variance = ofFour(variances[x], variances[x + 1], variances[x + 2], variances[x + 3]);
          boxThresholds[j * boxesAcross + i] = reaching(level, k1, variance);
        }
      }
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
          thresholds[r + x] = reaching(level, k, variance);
        }
      }
    },

    scanInto(hits, levelFiltered) {
      hits.count = 0;
      for (let top = 2, b = 0; top < h - 2; top += BLOCK_ROWS, b++) {
        const lit: number[] = [];
        for (let g = 0; 2 + g * across < w - 2; g++)
          if (!firstLook || b >= wholeDown || g >= wholeAcross || isLit(g, b, levelFiltered >> 2)) lit.push(g);
        if (lit.length === 0) continue;
        for (let y = top; y < Math.min(top + BLOCK_ROWS, h - 2); y++)
          for (const g of lit) matchRow(hits, y, g * across, levelFiltered);
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

    learn({ level, variance, leastSamples, leastNoiseDn, restMean, restVariance }) {
      const [toLevel, toVariance, least] = [fround(level), fround(variance), fround(leastNoiseDn)];
      for (let i = 0; i < n; i++) {
        const samples = count[i];
        if (samples < leastSamples) continue;
        const phase = Math.floor(i / w) % FOLD;
        // Rounded to single precision step by step, as the kernel does.
        const s = fround(sum[i]);
        const off = fround(s / samples);
        const unbiased = fround(fround(fround(squares[i]) - fround(s * off)) / (samples - 1));
        const seenVariance = Math.max(0, fround(unbiased - restVariance[phase]));
        const seen = fround(fround(reference[i] + off) - restMean[phase]);
        meanDn[i] = meanDn[i] + fround(toLevel * fround(seen - meanDn[i]));
        const old = fround(noiseDn[i] * noiseDn[i]);
        const next = fround(old + fround(toVariance * fround(seenVariance - old)));
        noiseDn[i] = Math.max(least, fround(Math.sqrt(next)));
      }
      this.clearSums();
    },

    clearSums() {
      count.fill(0);
      sum.fill(0);
      squares.fill(0);
    },
  };
}
