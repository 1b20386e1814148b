/** A grey image, row by row. 8 bit data is a Uint8Array, 16 bit a Uint16Array. */
export interface GreyFrame {
  readonly widthPx: number;
  readonly heightPx: number;
  readonly data: Uint8Array | Uint16Array;
}

/** A colour image, row by row, R G B for each pixel. */
export interface ColourFrame {
  readonly widthPx: number;
  readonly heightPx: number;
  readonly data: Uint8Array;
}
