import type { GreyFrame } from '../camera/GreyFrame.ts';
import { levelStandingSpots } from './levelStandingSpots.ts';
import { FILTER_GAIN, filterMapInto, packThresholds, type ThresholdMap } from './spotFilter.ts';

/** Every frame adds one row in FOLD to the running statistics: a quarter of the time, and drift is slow. */
const FOLD = 4;
/** Frames of one block; each pixel is then seen BLOCK_FRAMES / FOLD = 64 times. */
export const BLOCK_FRAMES = 256;
/** Samples farther than this many standard deviations from the dark level are light, not darkness. */
const CLIP_SIGMAS = 4;
/** A pixel learns from a block only if this many of its samples were dark; a source that stays lets it learn nothing. */
const LEAST_SAMPLES = 32;
/** Quantisation alone gives 0.29 DN; a pixel that seems quieter is stuck. */
const LEAST_NOISE_DN = 0.3;
/** Pixels that tell the common level and noise of a frame. */
const PROBES = 4096;

/**
 * Dark level and noise of every pixel, learned from the stream itself: block sums with clipping and
 * exponential forgetting (half of the level, a quarter of the variance a block), so that events do not count and a
 * source that stays in place is not learned. What all pixels share (temperature, offset at a gain step) is measured in
 * every frame from a few thousand probes and needs no learning.
 */
export class DarkModel {
  readonly widthPx: number;
  readonly heightPx: number;
  readonly #eightBit: boolean;
  /** Standard deviations of the filtered dark frame that an event must exceed. */
  readonly #thresholdSigmas: number;
  meanDn: Float32Array;
  noiseDn: Float32Array;
  /** Pixels that did not behave as darkness with rare light. */
  hot: Uint8Array;
  /** Frames folded in since the start, the learning frames included. */
  framesSeen = 0;
  learned = false;
  #samples: Uint8Array;
  #sample = new Float64Array(0);
  #sum: Float32Array;
  #sumSquares: Float32Array;
  #blockFrames = 0;
  #map: ThresholdMap | null = null;
  #mapNoiseScale = 1;
  #noiseScale = 1;
  #gain = Number.NaN;

  constructor(widthPx: number, heightPx: number, eightBit: boolean, thresholdSigmas: number) {
    this.widthPx = widthPx;
    this.heightPx = heightPx;
    this.#eightBit = eightBit;
    this.#thresholdSigmas = thresholdSigmas;
    const n = widthPx * heightPx;
    this.meanDn = new Float32Array(n);
    this.noiseDn = new Float32Array(n).fill(1);
    this.hot = new Uint8Array(n);
    this.#samples = new Uint8Array(n);
    this.#sum = new Float32Array(n);
    this.#sumSquares = new Float32Array(n);
  }

  /**
   * Learns a first model from whole frames (16 or more; 64 is good; more than 240 are thinned). Each pixel starts from the median of up to 9 frames
   * spread over the stretch, then takes the mean and variance of what lies within the clip.
   */
  learnFrom(all: readonly GreyFrame[]): void {
    const every = Math.ceil(all.length / 240); // sample counters are bytes
    const frames = all.filter((_, k) => k % every === 0);
    const n = this.meanDn.length;
    const picked = Array.from({ length: Math.min(9, frames.length) }, (_, i, of = Math.min(9, frames.length)) =>
      Math.floor(((i + 0.5) * frames.length) / of),
    );
    const stack = new Float64Array(picked.length);
    for (let i = 0; i < n; i++) {
      for (let k = 0; k < picked.length; k++) stack[k] = frames[picked[k]].data[i];
      stack.sort();
      this.meanDn[i] = stack[stack.length >> 1];
    }
    this.noiseDn.fill(1);
    this.noiseDn.fill(Math.max(0.5, this.#probe(frames[0].data).noiseScale));
    for (let pass = 0; pass < 2; pass++) {
      for (const frame of frames) this.#fold(frame.data, this.#probe(frame.data).levelDn, 0, 1);
      this.#closeBlock(1, 1, Math.min(LEAST_SAMPLES, Math.ceil(frames.length / 2)));
    }
    this.framesSeen += frames.length;
    levelStandingSpots(this.meanDn, this.noiseDn, this.widthPx, this.heightPx);
    this.learned = true;
    this.#map = null;
  }

  /** Common shift of this frame against the model, DN, and its noise over the model's; call before `thresholds`. */
  look(data: Uint8Array | Uint16Array, gain: number): { levelDn: number; noiseScale: number } {
    const seen = this.#probe(data);
    // A step of gain may change the noise at once; between steps the probes' own scatter is averaged away.
    if (gain !== this.#gain) this.#noiseScale = seen.noiseScale;
    else this.#noiseScale += (seen.noiseScale - this.#noiseScale) / 16;
    this.#gain = gain;
    return { levelDn: seen.levelDn, noiseScale: this.#noiseScale };
  }

  /** The threshold map for the noise of the last frame looked at; built anew only when the model or the noise moved. */
  thresholds(): ThresholdMap {
    if (!this.#map || Math.abs(this.#noiseScale / this.#mapNoiseScale - 1) > 0.08) {
      this.#mapNoiseScale = this.#noiseScale;
      this.#map = this.#buildMap(this.#noiseScale);
    }
    return this.#map;
  }

  /**
   * Adds a frame to the running statistics, leaving out the surroundings of the events found in it: the faint rim of a
   * spot is within the clip, and under a source that stays in place it would add up.
   * @returns true where this closed a block and the model moved
   */
  update(
    data: Uint8Array | Uint16Array,
    levelDn: number,
    events: readonly { xPx: number; yPx: number; radiusPx: number }[],
  ): boolean {
    const phase = this.framesSeen % FOLD;
    this.#fold(data, levelDn, phase, FOLD);
    this.#unfold(data, levelDn, phase, events);
    this.framesSeen++;
    if (++this.#blockFrames < BLOCK_FRAMES) return false;
    this.#blockFrames = 0;
    this.#closeBlock(0.5, 0.25, LEAST_SAMPLES);
    this.#map = null;
    return true;
  }

  /** Takes a pixel that has stood at a new level for most of a block as it now is. */
  adopt(pixel: number, meanDn: number): void {
    this.meanDn[pixel] = meanDn;
    this.hot[pixel] = 1;
    this.#map = null;
  }

  #probe(data: Uint8Array | Uint16Array): { levelDn: number; noiseScale: number } {
    const n = data.length;
    const step = Math.max(1, Math.floor(n / PROBES));
    let scale = 1;
    const sample = this.#sample.length === Math.floor(n / step) ? this.#sample : new Float64Array(Math.floor(n / step));
    this.#sample = sample;
    for (let k = 0; k < sample.length; k++) {
      const i = k * step + (k % step);
      sample[k] = data[i] - this.meanDn[i];
    }
    // From the median two rounds of clipping bring even a frame with a bright tenth to its dark level.
    let level = medianNearZero(sample);
    let squares = 0;
    for (let round = 0; round < 2; round++) {
      let count = 0;
      let sum = 0;
      squares = 0;
      for (let k = 0; k < sample.length; k++) {
        const noise = this.noiseDn[k * step + (k % step)];
        const d = (sample[k] - level) / noise;
        if (Math.abs(d) > 3.5 * Math.max(1, scale)) continue;
        count++;
        sum += sample[k] - level;
        squares += d * d;
      }
      level += count > 0 ? sum / count : 0;
      scale = count > 0 ? Math.sqrt(squares / count) : 1;
    }
    return { levelDn: level, noiseScale: scale };
  }

  #fold(data: Uint8Array | Uint16Array, levelDn: number, firstRow: number, rowStep: number): void {
    const { meanDn, noiseDn, widthPx } = this;
    const samples = this.#samples;
    const sum = this.#sum;
    const squares = this.#sumSquares;
    const clip = CLIP_SIGMAS * Math.max(1, this.#noiseScale);
    for (let y = firstRow; y < this.heightPx; y += rowStep) {
      const end = (y + 1) * widthPx;
      for (let i = y * widthPx; i < end; i++) {
        const d = data[i] - meanDn[i] - levelDn;
        const limit = clip * noiseDn[i];
        if (d < limit && d > -limit) {
          samples[i]++;
          sum[i] += d;
          squares[i] += d * d;
        }
      }
    }
  }

  #unfold(
    data: Uint8Array | Uint16Array,
    levelDn: number,
    phase: number,
    events: readonly { xPx: number; yPx: number; radiusPx: number }[],
  ): void {
    const { widthPx, heightPx } = this;
    const lit = new Set<number>();
    for (const { xPx, yPx, radiusPx } of events) {
      const reach = Math.ceil(3.5 * radiusPx);
      const [x0, y0] = [Math.round(xPx), Math.round(yPx)];
      for (let y = Math.max(0, y0 - reach); y <= Math.min(heightPx - 1, y0 + reach); y++) {
        if (y % FOLD !== phase) continue;
        for (let x = Math.max(0, x0 - reach); x <= Math.min(widthPx - 1, x0 + reach); x++) lit.add(y * widthPx + x);
      }
    }
    const clip = CLIP_SIGMAS * Math.max(1, this.#noiseScale);
    for (const i of lit) {
      const d = data[i] - this.meanDn[i] - levelDn;
      const limit = clip * this.noiseDn[i];
      if (d < limit && d > -limit) {
        this.#samples[i]--;
        this.#sum[i] -= d;
        this.#sumSquares[i] -= d * d;
      }
    }
  }

  #closeBlock(levelShare: number, varianceShare: number, leastSamples: number): void {
    const { meanDn, noiseDn } = this;
    const scale = this.#noiseScale;
    for (let i = 0; i < meanDn.length; i++) {
      const count = this.#samples[i];
      if (count >= leastSamples) {
        const mean = this.#sum[i] / count;
        const variance = Math.max(0, this.#sumSquares[i] / count - mean * mean) / (scale * scale);
        meanDn[i] += levelShare * mean;
        const old = noiseDn[i] * noiseDn[i];
        noiseDn[i] = Math.max(LEAST_NOISE_DN, Math.sqrt(old + varianceShare * (variance - old)));
      }
    }
    this.#samples.fill(0);
    this.#sum.fill(0);
    this.#sumSquares.fill(0);
  }

  #buildMap(noiseScale: number): ThresholdMap {
    const n = this.meanDn.length;
    const level = new Float32Array(n);
    const variance = new Float32Array(n);
    const squares = new Float32Array(n);
    for (let i = 0; i < n; i++) squares[i] = this.noiseDn[i] * this.noiseDn[i];
    filterMapInto(level, this.meanDn, this.widthPx, this.heightPx, false);
    filterMapInto(variance, squares, this.widthPx, this.heightPx, true);
    const scalar = new Int32Array(n);
    const k = this.#thresholdSigmas * noiseScale;
    for (let i = 0; i < n; i++) scalar[i] = Math.ceil(level[i] + k * Math.sqrt(variance[i]));
    return packThresholds(scalar, this.widthPx, this.heightPx, this.#eightBit);
  }

  /** The whole state, so that `restore` goes on as if nothing had happened. */
  snapshot(): Uint8Array {
    const head = new Float64Array([
      this.widthPx,
      this.heightPx,
      this.framesSeen,
      this.learned ? 1 : 0,
      this.#blockFrames,
      this.#noiseScale,
      this.#map ? this.#mapNoiseScale : 0,
      this.#gain,
    ]);
    const parts = [head, this.meanDn, this.noiseDn, this.#sum, this.#sumSquares, this.hot, this.#samples];
    const bytes = new Uint8Array(parts.reduce((sum, part) => sum + part.byteLength, 0));
    let at = 0;
    for (const part of parts) {
      bytes.set(new Uint8Array(part.buffer, part.byteOffset, part.byteLength), at);
      at += part.byteLength;
    }
    return bytes;
  }

  /** Throws RangeError where the bytes are not a snapshot of a model of this size. */
  restore(bytes: Uint8Array): void {
    const n = this.meanDn.length;
    const own = Uint8Array.from(bytes); // an aligned copy
    const head = new Float64Array(own.buffer, 0, 8);
    if (own.length !== 64 + 18 * n || head[0] !== this.widthPx || head[1] !== this.heightPx)
      throw new RangeError(`not a dark model of ${this.widthPx} x ${this.heightPx} px: ${own.length} bytes`);
    this.framesSeen = head[2];
    this.learned = head[3] === 1;
    this.#blockFrames = head[4];
    this.#gain = head[7];
    this.meanDn = new Float32Array(own.buffer, 64, n);
    this.noiseDn = new Float32Array(own.buffer, 64 + 4 * n, n);
    this.#sum = new Float32Array(own.buffer, 64 + 8 * n, n);
    this.#sumSquares = new Float32Array(own.buffer, 64 + 12 * n, n);
    this.hot = own.subarray(64 + 16 * n, 64 + 17 * n);
    this.#samples = own.subarray(64 + 17 * n, 64 + 18 * n);
    this.#noiseScale = head[5];
    this.#mapNoiseScale = head[6] || 1;
    // The map must be the one that was in use, though the noise may have moved a little since it was built.
    this.#map = head[6] ? this.#buildMap(head[6]) : null;
  }
}

/** The shift of a whole frame, DN, as the scan takes it. */
export const filteredLevel = (levelDn: number): number =>
  Math.max(-7999, Math.min(7999, Math.round(levelDn * FILTER_GAIN)));

const BINS_PER_DN = 8;
const BINS = 1024;

/** Median to an eighth of a DN, by counting; sorts only where it lies outside +-64 DN. */
function medianNearZero(sample: Float64Array): number {
  const bins = new Int32Array(BINS);
  for (let k = 0; k < sample.length; k++) {
    const bin = Math.round(sample[k] * BINS_PER_DN) + BINS / 2;
    bins[bin < 0 ? 0 : bin >= BINS ? BINS - 1 : bin]++;
  }
  let below = 0;
  let bin = 0;
  while (bin < BINS - 1 && below + bins[bin] <= sample.length >> 1) below += bins[bin++];
  if (bin > 0 && bin < BINS - 1) return (bin - BINS / 2) / BINS_PER_DN;
  return Float64Array.from(sample).sort()[sample.length >> 1];
}
