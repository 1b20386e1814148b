import {
  type KernelFunctions,
  kernelMemory,
  kernelsOnShared,
  layOut,
  type SharableMemory,
  sharedMemory,
} from '../camera/kernelModule.ts';
import { PROBE_BINS, PROBE_CLIP, PROBE_RUN, probeRuns } from './probeFrame.ts';
import { BLOCK_COLUMNS, BLOCK_ROWS, type Depth, FOLD, MOST_CLIP, NEVER, type SpotKernels } from './SpotKernels.ts';
import { growHits } from './spotFilter.ts';

const kernelsOf = (of: KernelFunctions, depth: Depth) =>
  depth === 8
    ? { probe: of.probeBytes, scan: of.scanBytes, fold: of.foldBytes, learn: of.learnBytes, settle: of.settleBytes }
    : { probe: of.probeWords, scan: of.scanWords, fold: of.foldWords, learn: of.learnWords, settle: of.settleWords };

/** What a memory for the kernels holds: the maps once, what a scan needs for each thread, and places for frames. */
function spotLayout(w: number, h: number, depth: Depth, threads: number, frames: number) {
  const n = w * h;
  const bytes = depth / 8;
  const strip = BLOCK_COLUMNS[depth];
  const strips = Math.ceil((w - 4) / strip);
  const blocks = Math.floor((w - 4) / strip) * Math.floor((h - 4) / BLOCK_ROWS);
  const runs = probeRuns(n).length;
  const probed = 4 * runs * PROBE_RUN;
  const map = layOut();
  const each = <T>(count: number, take: () => T): T[] => Array.from({ length: count }, take);
  const at = {
    // Five rows of level are read at a time, the last of them up to a vector beyond its end.
    mean: map.take(4 * n),
    noise: map.take(4 * n),
    firstThresholds: map.take(64 * blocks),
    leasts: map.take(4 * bytes * blocks),
    thresholds: map.take(32 * strips * (h + 2)),
    reference: map.take(n * bytes),
    clip: map.take(n * bytes),
    count: map.take(n * bytes),
    sum: map.take(n * 2 * bytes),
    squares: map.take(n * 2 * bytes),
    scratch: map.take(8 * (w + 32)),
    runs: map.take(4 * runs),
    probedMean: map.take(probed),
    probedPerNoise: map.take(probed),
    rests: map.take(8 * FOLD),
    shares: map.take(48),
    firstLook: map.take(4),
    frames: each(frames, () => map.take(n * bytes)),
    threads: each(threads, () => ({
      sample: map.take(probed),
      bins: map.take(4 * PROBE_BINS),
      level: map.take(8),
      list: map.take(4 * (strips + 1)),
      lanes: map.take(16),
      // As many as there are pixels; memory that is never written to is never there.
      hits: map.take(8 * n),
    })),
  };
  return { at, bytes: map.bytes };
}

/** Memory that several threads work on frames in, each with kernels of its own; it can be sent to a thread. */
export interface SharedSpots {
  readonly memory: SharableMemory;
  readonly threads: number;
  readonly frames: number;
}

/** Memory for so many threads and frames; null where this engine has no SIMD or no shared memory. */
export function shareSpots(
  widthPx: number,
  heightPx: number,
  depth: Depth,
  threads: number,
  frames: number,
): SharedSpots | null {
  const memory = sharedMemory(spotLayout(widthPx, heightPx, depth, threads, frames).bytes);
  return memory && { memory, threads, frames };
}

/**
 * The passes over frames by the kernels in WebAssembly, on one memory that holds all maps; null without SIMD.
 * @param shared memory of several threads; by default one of its own
 * @param thread which of them this is: no two may be the same. All may look at frames at a time (`take`, `probe`, `scanInto`); while one
 *               changes the maps (`settle`, `learn`) no other may
 */
export function simdSpotKernels(
  widthPx: number,
  heightPx: number,
  depth: Depth,
  shared: SharedSpots | null = null,
  thread = 0,
): SpotKernels | null {
  const w = widthPx;
  const h = heightPx;
  const n = w * h;
  const { at: all, bytes } = spotLayout(w, h, depth, shared?.threads ?? 1, shared?.frames ?? 1);
  const memory = shared ? kernelsOnShared(shared.memory) : kernelMemory(bytes);
  if (!memory) return null;
  const at = { ...all, ...all.threads[thread] };
  const { kernels, buffer } = memory;
  const { probe, scan, fold, learn, settle } = kernelsOf(kernels, depth);
  const ofPixels = (address: number): Uint8Array | Uint16Array =>
    depth === 8 ? new Uint8Array(buffer, address, n) : new Uint16Array(buffer, address, n);
  const frames = at.frames.map(ofPixels);
  const firstLook = new Int32Array(buffer, at.firstLook, 1);
  const count = ofPixels(at.count);
  const sum = depth === 8 ? new Int16Array(buffer, at.sum, n) : new Int32Array(buffer, at.sum, n);
  const squares = depth === 8 ? new Uint16Array(buffer, at.squares, n) : new Uint32Array(buffer, at.squares, n);
  const found = new Int32Array(buffer, at.hits, 2 * n);
  const rests = new Float32Array(buffer, at.rests, 2 * FOLD);
  const shares = new Float32Array(buffer, at.shares, 12);
  const runs = probeRuns(n);
  const probed = runs.length * PROBE_RUN;
  const probes = {
    runs: new Int32Array(buffer, at.runs, runs.length),
    meanDn: new Float32Array(buffer, at.probedMean, probed),
    perNoise: new Float32Array(buffer, at.probedPerNoise, probed),
  };
  probes.runs.set(runs);
  const level = new Float32Array(buffer, at.level, 2);
  /** Where the frame is that was taken last. */
  let taken = at.frames[0];
  const hitsOfRow = new Int32Array(h + 1);

  return {
    form: 'simd',
    frames,
    meanDn: new Float32Array(buffer, at.mean, n),
    noiseDn: new Float32Array(buffer, at.noise, n),
    reference: ofPixels(at.reference),
    clip: ofPixels(at.clip),
    count,
    sum,
    squares,
    probes,

    take(data) {
      taken = data.buffer === buffer ? data.byteOffset : at.frames[0];
      if (data.buffer !== buffer) frames[0].set(data);
    },

    probe() {
      const { runs: first, probedMean, probedPerNoise, sample, bins } = at;
      probe(taken, first, runs.length, probedMean, probedPerNoise, PROBE_CLIP, sample, bins, at.level);
      return { levelDn: level[0], noiseScale: level[1] };
    },

    settle(sigmas) {
      const { mean, noise, firstThresholds, leasts, thresholds, reference, clip, scratch } = at;
      firstLook[0] = sigmas.firstLook > 0 ? firstThresholds : 0;
      const [most, never] = [MOST_CLIP[depth], NEVER[depth]];
      settle(
        mean,
        noise,
        firstThresholds,
        leasts,
        thresholds,
        reference,
        clip,
        w,
        h,
        sigmas.firstLook,
        sigmas.threshold,
        sigmas.clip,
        most,
        never,
        scratch,
      );
    },

    scanInto(hits, levelFiltered) {
      const total = scan(
        taken,
        w,
        h,
        firstLook[0],
        at.leasts,
        at.thresholds,
        levelFiltered,
        at.hits,
        n,
        at.list,
        at.lanes,
      );
      growHits(hits, total);
      // They come strip by strip; a sort by row that keeps their order brings them in order of pixel but for the columns
      // of one strip, where even ones precede odd ones.
      hitsOfRow.fill(0);
      for (let k = 0; k < total; k++) hitsOfRow[Math.floor(found[2 * k] / w)]++;
      let next = 0;
      for (let y = 0; y < h; y++) {
        const inRow = hitsOfRow[y];
        hitsOfRow[y] = next;
        next += inRow;
      }
      const { pixel, excess } = hits;
      for (let k = 0; k < total; k++) {
        const p = found[2 * k];
        const y = Math.floor(p / w);
        const to = hitsOfRow[y]++;
        pixel[to] = p;
        excess[to] = found[2 * k + 1];
      }
      for (let k = 1; k < total; k++) {
        const [p, e] = [pixel[k], excess[k]];
        let to = k;
        for (; to > 0 && pixel[to - 1] > p; to--) {
          pixel[to] = pixel[to - 1];
          excess[to] = excess[to - 1];
        }
        pixel[to] = p;
        excess[to] = e;
      }
      hits.count = total;
    },

    fold(level, firstRow, rowStep) {
      fold(taken, at.reference, at.clip, at.count, at.sum, at.squares, w, h, level, firstRow, rowStep);
    },

    learn({ level: toLevel, variance, leastSamples, leastNoiseDn, restMean, restVariance }) {
      rests.set(restMean);
      rests.set(restVariance, FOLD);
      [toLevel, variance, leastNoiseDn].forEach((share, k) => shares.fill(share, 4 * k, 4 * k + 4));
      learn(at.mean, at.noise, at.reference, at.count, at.sum, at.squares, w, h, leastSamples, at.rests, at.shares);
    },

    clearSums() {
      count.fill(0);
      sum.fill(0);
      squares.fill(0);
    },
  };
}
