const BINS_PER_DN = 8;
const BINS = 1024;
/** Neighbouring pixels asked together: they share a line of the processor's cache. */
const RUN = 16;
/** One probe in so many gives the first guess of a frame's level, which need only be right to a noise or two. */
const GUESS_EVERY = 4;

/** A few thousand pixels that tell the common level and noise of a frame against a dark model. */
export class Probes {
  readonly #pixel: Int32Array;
  readonly #meanDn: Float64Array;
  /** One over the noise, 1/DN. */
  readonly #perNoise: Float64Array;
  readonly #sample: Float64Array;
  readonly #bins = new Int32Array(BINS);

  /** @param most how many pixels are asked at most: runs of 16, spread over the image and over its columns */
  constructor(pixels: number, most: number) {
    const runs = Math.max(1, Math.min(Math.floor(most / RUN), Math.floor(pixels / RUN)));
    const stride = Math.floor(pixels / runs);
    const room = Math.max(1, stride - RUN + 1);
    this.#pixel = Int32Array.from({ length: runs * Math.min(RUN, stride) }, (_, k) => {
      const run = Math.floor(k / RUN);
      // 0.618 spreads the runs evenly over their stretches, whatever the width of the image.
      return run * stride + Math.floor(((run * 0.618034) % 1) * room) + (k % RUN);
    });
    this.#meanDn = new Float64Array(this.#pixel.length);
    this.#perNoise = new Float64Array(this.#pixel.length);
    this.#sample = new Float64Array(this.#pixel.length);
  }

  /** Takes over a model; to be told again whenever that moved. */
  follow(meanDn: Float32Array, noiseDn: Float32Array): void {
    for (let k = 0; k < this.#pixel.length; k++) {
      this.#meanDn[k] = meanDn[this.#pixel[k]];
      this.#perNoise[k] = 1 / noiseDn[this.#pixel[k]];
    }
  }

  /** Common shift of a frame against the model, DN, and its noise over the model's. */
  look(data: Uint8Array | Uint16Array): { readonly levelDn: number; readonly noiseScale: number } {
    const sample = this.#sample;
    const pixel = this.#pixel;
    const meanDn = this.#meanDn;
    const perNoise = this.#perNoise;
    const n = sample.length;
    for (let k = 0; k < n; k++) sample[k] = data[pixel[k]] - meanDn[k];
    // From the median two rounds of clipping bring even a frame with a bright tenth to its dark level.
    let level = this.#medianNearZero();
    let scale = 1;
    for (let round = 0; round < 2; round++) {
      const limit = 3.5 * Math.max(1, scale);
      const step = round === 0 ? GUESS_EVERY : 1;
      let count = 0;
      let sum = 0;
      let squares = 0;
      for (let k = 0; k < n; k += step) {
        const off = sample[k] - level;
        const d = off * perNoise[k];
        if (d > limit || d < -limit) continue;
        count++;
        sum += off;
        squares += d * d;
      }
      level += count > 0 ? sum / count : 0;
      scale = count > 0 ? Math.sqrt(squares / count) : 1;
    }
    return { levelDn: level, noiseScale: scale };
  }

  /** Noise of a frame about its own median against the model, DN, from the median of the deviations: needs no noise known before. */
  scatterDn(data: Uint8Array | Uint16Array): number {
    const off = Float64Array.from(this.#pixel, (pixel, k) => data[pixel] - this.#meanDn[k]).sort();
    const middle = off[off.length >> 1];
    return 1.4826 * off.map((dn) => Math.abs(dn - middle)).sort()[off.length >> 1];
  }

  /** Median of a share of the probes to an eighth of a DN, by counting; sorts only where it lies outside +-64 DN. */
  #medianNearZero(): number {
    const sample = this.#sample;
    const bins = this.#bins.fill(0);
    let asked = 0;
    for (let k = 0; k < sample.length; k += GUESS_EVERY) {
      const bin = Math.floor(sample[k] * BINS_PER_DN + 0.5) + BINS / 2;
      bins[bin < 0 ? 0 : bin >= BINS ? BINS - 1 : bin]++;
      asked++;
    }
    let below = 0;
    let bin = 0;
    while (bin < BINS - 1 && below + bins[bin] <= asked >> 1) below += bins[bin++];
    if (bin > 0 && bin < BINS - 1) return (bin - BINS / 2) / BINS_PER_DN;
    return Float64Array.from(sample).sort()[sample.length >> 1];
  }
}
