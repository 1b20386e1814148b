import type { DarkModel } from './DarkModel.ts';

/** Grey levels of one frame, and what they are above: the dark level and the frame's common shift against it, DN. */
export interface FrameAboveDark {
  readonly data: Uint8Array | Uint16Array;
  readonly dark: Pick<DarkModel, 'widthPx' | 'heightPx' | 'meanDn' | 'noiseDn'>;
  readonly levelDn: number;
}

/**
 * Signal above dark in a box of pixels around one or more spots, row by row. One window serves for one region after
 * another and keeps its memory, so that reading a region makes no garbage.
 */
export class SpotWindow {
  leftPx = 0;
  topPx = 0;
  columns = 0;
  rows = 0;
  /** Pixels that take part. */
  count = 0;
  /** DN; 0 where a pixel takes no part. */
  signal = new Float64Array(0);
  /** Of the signal without light, DN²; infinite where a pixel takes no part, so that its weight is 0. */
  variance = new Float64Array(0);
  /** Room for what the fits compute for each column and each row. */
  across = new Float64Array(0);
  slopes = new Float64Array(0);
  down = new Float64Array(0);

  /** Makes this the box from left, top to right, bottom (inclusive), all of whose pixels take part. */
  setBox(leftPx: number, topPx: number, rightPx: number, bottomPx: number): void {
    this.leftPx = leftPx;
    this.topPx = topPx;
    this.columns = rightPx - leftPx + 1;
    this.rows = bottomPx - topPx + 1;
    this.count = this.columns * this.rows;
    if (this.signal.length < this.count) {
      this.signal = new Float64Array(2 * this.count);
      this.variance = new Float64Array(2 * this.count);
    }
    if (this.across.length < this.columns) {
      this.across = new Float64Array(2 * this.columns);
      this.slopes = new Float64Array(2 * this.columns);
    }
    if (this.down.length < this.rows) this.down = new Float64Array(2 * this.rows);
  }

  /** All pixels of a frame within `reachPx` (a square) of the pixels that entries `from` to before `end` name. */
  fillAround(frame: FrameAboveDark, pixels: Int32Array, from: number, end: number, reachPx: number): void {
    const { widthPx: w, heightPx: h } = frame.dark;
    let [left, right, top, bottom] = [w, 0, h, 0];
    for (let k = from; k < end; k++) {
      const y = Math.floor(pixels[k] / w);
      const x = pixels[k] - y * w;
      if (x < left) left = x;
      if (x > right) right = x;
      if (y < top) top = y;
      if (y > bottom) bottom = y;
    }
    this.setBox(
      Math.max(0, left - reachPx),
      Math.max(0, top - reachPx),
      Math.min(w - 1, right + reachPx),
      Math.min(h - 1, bottom + reachPx),
    );
    if (end - from === 1) this.#fillAll(frame);
    else this.#fillNear(frame, pixels.subarray(from, end), reachPx);
  }

  #fillAll({ data, dark, levelDn }: FrameAboveDark): void {
    const { meanDn, noiseDn, widthPx } = dark;
    const { signal, variance, columns } = this;
    for (let row = 0, k = 0; row < this.rows; row++) {
      let i = (this.topPx + row) * widthPx + this.leftPx;
      for (const end = i + columns; i < end; i++, k++) {
        const noise = noiseDn[i];
        signal[k] = data[i] - meanDn[i] - levelDn;
        variance[k] = noise * noise;
      }
    }
  }

  #fillNear(frame: FrameAboveDark, pixels: Int32Array, reachPx: number): void {
    const { data, dark, levelDn } = frame;
    const { meanDn, noiseDn, widthPx: w } = dark;
    const { signal, variance, columns, rows, leftPx, topPx } = this;
    signal.fill(0, 0, columns * rows);
    variance.fill(Number.POSITIVE_INFINITY, 0, columns * rows);
    this.count = 0;
    for (const pixel of pixels) {
      const atY = Math.floor(pixel / w);
      const atX = pixel - atY * w;
      const endX = Math.min(leftPx + columns - 1, atX + reachPx);
      const endY = Math.min(topPx + rows - 1, atY + reachPx);
      for (let y = Math.max(topPx, atY - reachPx); y <= endY; y++)
        for (let x = Math.max(leftPx, atX - reachPx); x <= endX; x++) {
          const k = (y - topPx) * columns + x - leftPx;
          if (variance[k] !== Number.POSITIVE_INFINITY) continue;
          const i = y * w + x;
          signal[k] = data[i] - meanDn[i] - levelDn;
          variance[k] = noiseDn[i] * noiseDn[i];
          this.count++;
        }
    }
  }
}

/**
 * exp(-d² / 2 s2) at d = first, first + 1, ...: a Gaussian spot is the product of one across and one down. From its middle
 * outwards each value is the one before times a ratio that itself falls by a constant: three exponentials do for all of them, and
 * what underflows is 0. Accuracy: 1e-14 of the value at ten steps from the middle.
 */
export function bellInto(out: Float64Array, count: number, first: number, s2: number): void {
  const middle = Math.max(0, Math.min(count - 1, Math.round(-first)));
  const d = first + middle;
  const fall = Math.exp(-1 / s2);
  const peak = Math.exp((-d * d) / (2 * s2));
  out[middle] = peak;
  let ratio = Math.exp((-2 * d - 1) / (2 * s2));
  for (let k = middle + 1, value = peak; k < count; k++) {
    value *= ratio;
    ratio *= fall;
    out[k] = value;
  }
  ratio = Math.exp((2 * d - 1) / (2 * s2));
  for (let k = middle - 1, value = peak; k >= 0; k--) {
    value *= ratio;
    ratio *= fall;
    out[k] = value;
  }
}
