import type { GreyFrame } from '../camera/GreyFrame.ts';
import { levelStandingSpots } from './levelStandingSpots.ts';
import { type FrameLevel, followInto, scatterDn } from './probeFrame.ts';
import { depthOf, FOLD, type SpotKernels, SUM_FRAMES } from './SpotKernels.ts';
import { FILTER_GAIN } from './spotFilter.ts';

/** Frames of one block; each pixel is then seen SUM_FRAMES = 32 times, its level known to a sixth of its noise. */
export const BLOCK_FRAMES = FOLD * SUM_FRAMES;
/** Share of the threshold that a box of 4 x 4 pixels must reach, in standard deviations, for a closer look. */
const FIRST_LOOK = 0.7;
/** Samples farther than this many standard deviations from the dark level are light, not darkness. */
const CLIP_SIGMAS = 4;
/** How far level and variance move towards what a block says. */
const LEVEL_SHARE = 0.5;
const VARIANCE_SHARE = 0.25;
/** A pixel learns from a block only if this many of its samples were dark; a source that stays lets it learn nothing. */
const LEAST_SAMPLES = SUM_FRAMES / 2;
/** Quantisation alone gives 0.29 DN; a pixel that seems quieter is stuck. */
const LEAST_NOISE_DN = 0.3;

type Place = { readonly xPx: number; readonly yPx: number; readonly radiusPx: number };

/**
 * Dark level and noise of every pixel, learned from the stream itself: block sums with clipping and
 * exponential forgetting (half of the level, a quarter of the variance a block), so that events do not count and a
 * source that stays in place is not learned. What all pixels share (temperature, offset at a gain step) is measured in
 * every frame from a few thousand probes and needs no learning.
 *
 * The sums are of whole numbers: differences from the nearest whole level of pixel and frame. What rounding the frame's
 * level leaves is the same for all pixels of a row in a frame; its mean and variance over the frames of a block are taken
 * off when the block closes.
 */
export class DarkModel {
  readonly widthPx: number;
  readonly heightPx: number;
  /** The frame last taken, its thresholds and sums. */
  readonly kernels: SpotKernels;
  /** Standard deviations of the filtered dark frame that an event must exceed. */
  readonly #thresholdSigmas: number;
  readonly #mostLevel: number;
  readonly meanDn: Float32Array;
  readonly noiseDn: Float32Array;
  /** Pixels that did not behave as darkness with rare light. */
  readonly hot: Uint8Array;
  /** Frames folded in since the start, the learning frames included. */
  framesSeen = 0;
  learned = false;
  /** For each row modulo FOLD: frames folded in this block, sum and sum of squares of what rounding their level left. */
  readonly #rounding = new Float64Array(3 * FOLD);
  #blockFrames = 0;
  /** The noise scale that thresholds and clips were made for, 0 where they are to be made anew. */
  #settledScale = 0;
  #noiseScale = 1;
  #gain = Number.NaN;

  constructor(kernels: SpotKernels, widthPx: number, heightPx: number, bitDepth: number, thresholdSigmas: number) {
    this.kernels = kernels;
    this.widthPx = widthPx;
    this.heightPx = heightPx;
    this.#mostLevel = depthOf(bitDepth) === 8 ? 255 : 32767;
    this.#thresholdSigmas = thresholdSigmas;
    this.meanDn = kernels.meanDn;
    this.noiseDn = kernels.noiseDn.fill(1);
    this.hot = new Uint8Array(widthPx * heightPx);
  }

  /**
   * Learns a first model from whole frames (16 or more; 64 is good; more than 240 are thinned). Each pixel starts from the
   * median of up to 9 frames spread over the stretch, then takes the mean and variance of what lies within the clip.
   */
  learnFrom(all: readonly GreyFrame[]): void {
    const { meanDn, noiseDn } = this;
    const every = Math.ceil(all.length / 240);
    const frames = all.filter((_, k) => k % every === 0);
    const picked = Array.from({ length: Math.min(9, frames.length) }, (_, i, of = Math.min(9, frames.length)) =>
      Math.floor(((i + 0.5) * frames.length) / of),
    );
    medianOfFramesInto(
      meanDn,
      picked.map((k) => frames[k].data),
    );
    noiseDn.fill(1);
    this.#probeAnew();
    noiseDn.fill(Math.max(0.5, scatterDn(frames[0].data, this.kernels.probes)));
    const total = new LearningSums(meanDn.length);
    for (let pass = 0; pass < 2; pass++) {
      this.#probeAnew();
      this.#settle(this.#noiseScale);
      for (let first = 0; first < frames.length; first += SUM_FRAMES) {
        for (const { data } of frames.slice(first, first + SUM_FRAMES)) {
          this.kernels.take(data);
          this.#fold(this.kernels.probe().levelDn, 0, 1);
        }
        total.add(this.kernels);
        this.kernels.clearSums();
      }
      this.#takeOver(total, Math.min(32, Math.ceil(frames.length / 2)));
      total.clear();
    }
    this.framesSeen += frames.length;
    levelStandingSpots(meanDn, noiseDn, this.widthPx, this.heightPx);
    this.#moved();
    this.learned = true;
  }

  /**
   * Takes note of the level and noise of the next frame; false where the thresholds are not the right ones for it. Once a frame, in
   * order.
   */
  holds({ noiseScale }: FrameLevel, gain: number): boolean {
    // A step of gain may change the noise at once; between steps the probes' own scatter is averaged away.
    if (gain !== this.#gain) this.#noiseScale = noiseScale;
    else this.#noiseScale += (noiseScale - this.#noiseScale) / 16;
    this.#gain = gain;
    // Thresholds are made anew only when the model or the noise moved.
    return this.#settledScale !== 0 && Math.abs(this.#noiseScale / this.#settledScale - 1) <= 0.08;
  }

  /** Makes the thresholds for the model and the noise as they now are. */
  renewThresholds(): void {
    this.#settle(this.#noiseScale);
  }

  /** Frames until the model moves, the one included that makes it. */
  get framesOfBlockLeft(): number {
    return BLOCK_FRAMES - this.#blockFrames;
  }

  /**
   * Adds the frame that the kernels took last to the running statistics, leaving out the surroundings of the events found in it: the
   * faint rim of a spot is within the clip, and under a source that stays in place it would add up.
   * @returns true where this closed a block and the model moved
   */
  update(data: Uint8Array | Uint16Array, levelDn: number, events: readonly Place[]): boolean {
    const phase = this.framesSeen % FOLD;
    const level = this.#fold(levelDn, phase, FOLD);
    this.#unfold(data, level, phase, events);
    this.framesSeen++;
    if (++this.#blockFrames < BLOCK_FRAMES) return false;
    this.#blockFrames = 0;
    this.#closeBlock();
    this.#moved();
    return true;
  }

  /** Takes a pixel that has stood at a new level for most of a block as it now is. Only right after `update` closed one. */
  adopt(pixel: number, meanDn: number): void {
    this.meanDn[pixel] = meanDn;
    this.hot[pixel] = 1;
    this.#moved();
  }

  #moved(): void {
    this.#settledScale = 0;
    // What the noise is over the model's is to be seen anew in the next frame.
    this.#gain = Number.NaN;
    this.#probeAnew();
  }

  #probeAnew(): void {
    followInto(this.kernels.probes, this.meanDn, this.noiseDn);
  }

  #settle(noiseScale: number): void {
    this.#settledScale = noiseScale;
    this.kernels.settle({
      firstLook: FIRST_LOOK * this.#thresholdSigmas * noiseScale,
      threshold: this.#thresholdSigmas * noiseScale,
      clip: CLIP_SIGMAS * Math.max(1, noiseScale),
    });
  }

  /** Returns the whole level that was taken off. */
  #fold(levelDn: number, firstRow: number, rowStep: number): number {
    const level = Math.max(-this.#mostLevel, Math.min(this.#mostLevel, Math.round(levelDn)));
    this.kernels.fold(level, firstRow, rowStep);
    const rest = levelDn - level;
    for (let phase = firstRow; phase < FOLD; phase += rowStep) {
      this.#rounding[3 * phase]++;
      this.#rounding[3 * phase + 1] += rest;
      this.#rounding[3 * phase + 2] += rest * rest;
    }
    return level;
  }

  #unfold(data: Uint8Array | Uint16Array, level: number, phase: number, events: readonly Place[]): void {
    const { widthPx, heightPx } = this;
    const { reference, clip, count, sum, squares } = this.kernels;
    const most = reference instanceof Uint8Array ? 255 : 65535;
    const stretches: { from: number; end: number }[] = [];
    for (const { xPx, yPx, radiusPx } of events) {
      const reach = Math.ceil(3.5 * radiusPx);
      const [x0, y0] = [Math.round(xPx), Math.round(yPx)];
      const top = Math.max(0, y0 - reach);
      for (let y = top + ((phase - top + FOLD * heightPx) % FOLD); y <= Math.min(heightPx - 1, y0 + reach); y += FOLD)
        stretches.push({
          from: y * widthPx + Math.max(0, x0 - reach),
          end: y * widthPx + Math.min(widthPx - 1, x0 + reach) + 1,
        });
    }
    stretches.sort((a, b) => a.from - b.from);
    let done = 0;
    for (const { from, end } of stretches) {
      for (let i = Math.max(from, done); i < end; i++) {
        const d = data[i] - Math.max(0, Math.min(most, reference[i] + Math.max(level, 0)) - Math.max(-level, 0));
        if (d > clip[i] || d < -clip[i]) continue;
        count[i]--;
        sum[i] -= d;
        squares[i] -= d * d;
      }
      done = Math.max(done, end);
    }
  }

  /** Mean and variance, for each row modulo FOLD, of what rounding took off the levels of the frames folded since last asked. */
  #takeRests(): { restMean: Float32Array; restVariance: Float32Array } {
    const restMean = new Float32Array(FOLD);
    const restVariance = new Float32Array(FOLD);
    for (let phase = 0; phase < FOLD; phase++) {
      const [frames, rests, squares] = this.#rounding.subarray(3 * phase, 3 * phase + 3);
      if (frames === 0) continue;
      const mean = rests / frames;
      restMean[phase] = mean;
      restVariance[phase] = Math.max(0, squares / frames - mean * mean);
    }
    this.#rounding.fill(0);
    return { restMean, restVariance };
  }

  #closeBlock(): void {
    this.kernels.learn({
      level: LEVEL_SHARE,
      variance: VARIANCE_SHARE,
      leastSamples: LEAST_SAMPLES,
      leastNoiseDn: LEAST_NOISE_DN,
      ...this.#takeRests(),
    });
  }

  /** Takes level and noise from the sums of the learning frames as they are. */
  #takeOver({ count, sum, squares }: LearningSums, leastSamples: number): void {
    const { meanDn, noiseDn, widthPx } = this;
    const { reference } = this.kernels;
    const { restMean, restVariance } = this.#takeRests();
    for (let i = 0; i < meanDn.length; i++) {
      const samples = count[i];
      if (samples < leastSamples) continue;
      const phase = Math.floor(i / widthPx) % FOLD;
      const mean = sum[i] / samples;
      const unbiased = (squares[i] - samples * mean * mean) / (samples - 1);
      meanDn[i] = reference[i] + mean - restMean[phase];
      noiseDn[i] = Math.max(LEAST_NOISE_DN, Math.sqrt(Math.max(0, unbiased - restVariance[phase])));
    }
  }

  #state(): (Float32Array | Float64Array | Uint8Array | Uint16Array | Int16Array | Int32Array | Uint32Array)[] {
    const { count, sum, squares } = this.kernels;
    return [this.#rounding, this.meanDn, this.noiseDn, squares, sum, count, this.hot];
  }

  /** The whole state, so that `restore` goes on as if nothing had happened. The same bytes whatever form the kernels have. */
  snapshot(): Uint8Array {
    const head = new Float64Array([
      this.widthPx,
      this.heightPx,
      this.framesSeen,
      this.learned ? 1 : 0,
      this.#blockFrames,
      this.#noiseScale,
      this.#settledScale,
      this.#gain,
    ]);
    const parts = [head, ...this.#state()];
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
    const parts = this.#state();
    const expected = 64 + parts.reduce((sum, part) => sum + part.byteLength, 0);
    // A copy of its own: `slice` of the Buffer that a file is read into would still lie in a larger block of memory.
    const head = new Float64Array(Uint8Array.from(bytes.subarray(0, 64)).buffer, 0, Math.min(8, bytes.length >> 3));
    if (bytes.length !== expected || head[0] !== this.widthPx || head[1] !== this.heightPx)
      throw new RangeError(`not a dark model of ${this.widthPx} x ${this.heightPx} px: ${bytes.length} bytes`);
    let at = 64;
    for (const part of parts) {
      new Uint8Array(part.buffer, part.byteOffset, part.byteLength).set(bytes.subarray(at, at + part.byteLength));
      at += part.byteLength;
    }
    this.framesSeen = head[2];
    this.learned = head[3] === 1;
    this.#blockFrames = head[4];
    this.#noiseScale = head[5];
    this.#moved();
    this.#gain = head[7];
    // The thresholds must be those that were in use, though the noise may have moved a little since they were made.
    if (head[6] > 0) this.#settle(head[6]);
  }
}

/** The shift of a whole frame, DN, as the scan takes it. */
export function filteredLevel(levelDn: number, bitDepth: number): number {
  const most = depthOf(bitDepth) === 8 ? 7999 : (1 << 29) - 1;
  return Math.max(-most, Math.min(most, Math.round(levelDn * FILTER_GAIN)));
}

/** Sums over more frames than those of the kernels hold. */
class LearningSums {
  readonly count: Float64Array;
  readonly sum: Float64Array;
  readonly squares: Float64Array;

  constructor(pixels: number) {
    this.count = new Float64Array(pixels);
    this.sum = new Float64Array(pixels);
    this.squares = new Float64Array(pixels);
  }

  add({ count, sum, squares }: SpotKernels): void {
    for (let i = 0; i < this.count.length; i++) {
      this.count[i] += count[i];
      this.sum[i] += sum[i];
      this.squares[i] += squares[i];
    }
  }

  clear(): void {
    this.count.fill(0);
    this.sum.fill(0);
    this.squares.fill(0);
  }
}

function medianOfFramesInto(out: Float32Array, frames: readonly (Uint8Array | Uint16Array)[]): void {
  const stack = new Int32Array(frames.length);
  for (let i = 0; i < out.length; i++) {
    for (let k = 0; k < stack.length; k++) {
      const value = frames[k][i];
      let to = k;
      for (; to > 0 && stack[to - 1] > value; to--) stack[to] = stack[to - 1];
      stack[to] = value;
    }
    out[i] = stack[stack.length >> 1];
  }
}
