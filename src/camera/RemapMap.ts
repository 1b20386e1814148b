/** Where each pixel of an output image lies in a source image, in fixed point, as the remap kernels read it. */
export interface RemapMap {
  readonly widthPx: number;
  readonly heightPx: number;
  readonly sourceWidthPx: number;
  readonly sourceHeightPx: number;
  readonly channels: 1 | 3 | 4;
  /** Bytes from the start of the source to the upper left of the four neighbours; the source's length where there are none. */
  readonly offsets: Uint32Array;
  /** Weight of the right neighbours, 1/128 px, and 256 times that of the lower ones. */
  readonly weights: Uint16Array;
}

/**
 * Fixes a map of source pixels to 1/128 px, which costs at most 1/256 of the step between neighbours in each axis.
 * @param u, v  column and row in the source for each output pixel, row by row; (0, 0) is the centre of the top left pixel.
 *              Outside [0, width - 1] x [0, height - 1], or NaN, the output will be 0
 */
export function fixRemapMap(
  u: Float32Array | Float64Array,
  v: Float32Array | Float64Array,
  size: Pick<RemapMap, 'widthPx' | 'heightPx' | 'sourceWidthPx' | 'sourceHeightPx' | 'channels'>,
): RemapMap {
  const { widthPx, heightPx, sourceWidthPx, sourceHeightPx, channels } = size;
  const count = widthPx * heightPx;
  if (u.length !== count || v.length !== count)
    throw new RangeError(`a map of ${u.length} and ${v.length} places for ${widthPx} x ${heightPx} pixels`);
  const offsets = new Uint32Array(count);
  const weights = new Uint16Array(count);
  const outside = sourceWidthPx * sourceHeightPx * channels;
  for (let i = 0; i < count; i++) {
    const x = Math.round(u[i] * 128);
    const y = Math.round(v[i] * 128);
    if (x >= 0 && y >= 0 && x <= (sourceWidthPx - 1) * 128 && y <= (sourceHeightPx - 1) * 128) {
      offsets[i] = ((y >> 7) * sourceWidthPx + (x >> 7)) * channels;
      weights[i] = (x & 127) | ((y & 127) << 8);
    } else offsets[i] = outside;
  }
  return { widthPx, heightPx, sourceWidthPx, sourceHeightPx, channels, offsets, weights };
}
