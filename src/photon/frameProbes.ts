const BINS_PER_DN = 8;
const BINS = 1024;

/** A few thousand pixels that tell the common level and noise of a frame against a dark model. */
export class Probes {
  readonly #pixel: Int32Array;
  readonly #meanDn: Float64Array;
  readonly #noiseDn: Float64Array;
  readonly #sample: Float64Array;
  readonly #bins = new Int32Array(BINS);

  /** @param most how many pixels are asked at most, spread over the image */
  constructor(pixels: number, most: number) {
    const step = Math.max(1, Math.floor(pixels / most));
    this.#pixel = Int32Array.from({ length: Math.floor(pixels / step) }, (_, k) => k * step + (k % step));
    this.#meanDn = new Float64Array(this.#pixel.length);
    this.#noiseDn = new Float64Array(this.#pixel.length);
    this.#sample = new Float64Array(this.#pixel.length);
  }

  /** Takes over a model; to be told again whenever that moved. */
  follow(meanDn: Float32Array, noiseDn: Float32Array): void {
    for (let k = 0; k < this.#pixel.length; k++) {
      this.#meanDn[k] = meanDn[this.#pixel[k]];
      this.#noiseDn[k] = noiseDn[this.#pixel[k]];
    }
  }

  /** Common shift of a frame against the model, DN, and its noise over the model's. */
  look(data: Uint8Array | Uint16Array): { readonly levelDn: number; readonly noiseScale: number } {
    const sample = this.#sample;
    for (let k = 0; k < sample.length; k++) sample[k] = data[this.#pixel[k]] - this.#meanDn[k];
    // From the median two rounds of clipping bring even a frame with a bright tenth to its dark level.
    let level = this.#medianNearZero();
    let scale = 1;
    for (let round = 0; round < 2; round++) {
      const limit = 3.5 * Math.max(1, scale);
      let count = 0;
      let sum = 0;
      let squares = 0;
      for (let k = 0; k < sample.length; k++) {
        const off = sample[k] - level;
        const d = off / this.#noiseDn[k];
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

  /** Median to an eighth of a DN, by counting; sorts only where it lies outside +-64 DN. */
  #medianNearZero(): number {
    const sample = this.#sample;
    const bins = this.#bins.fill(0);
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
}
