import type { ColourFrame } from '../../camera/GreyFrame.ts';

/** A picture in 8-bit grey, row by row. */
export interface GreyImage {
  readonly widthPx: number;
  readonly heightPx: number;
  readonly grey: Uint8Array;
}

/** Luminance in 8-bit weights (ITU-R BT.601). */
export function greyImage({ widthPx, heightPx, data }: ColourFrame): GreyImage {
  const grey = new Uint8Array(widthPx * heightPx);
  for (let i = 0, k = 0; i < grey.length; i++, k += 3)
    grey[i] = (77 * data[k] + 150 * data[k + 1] + 29 * data[k + 2] + 128) >> 8;
  return { widthPx, heightPx, grey };
}

/** Bilinear; outside, the nearest pixel of the border. */
export function greyAt({ widthPx, heightPx, grey }: GreyImage, x: number, y: number): number {
  const cx = Math.min(widthPx - 1.001, Math.max(0, x));
  const cy = Math.min(heightPx - 1.001, Math.max(0, y));
  const x0 = Math.floor(cx);
  const y0 = Math.floor(cy);
  const at = y0 * widthPx + x0;
  const fx = cx - x0;
  const fy = cy - y0;
  return (
    (1 - fy) * ((1 - fx) * grey[at] + fx * grey[at + 1]) +
    fy * ((1 - fx) * grey[at + widthPx] + fx * grey[at + widthPx + 1])
  );
}

/** Means of 2 x 2 pixels: pixel (x, y) of the result lies at (2 x + 1/2, 2 y + 1/2) of the picture. */
export function halved({ widthPx, heightPx, grey }: GreyImage): GreyImage {
  const w = widthPx >> 1;
  const h = heightPx >> 1;
  const out = new Uint8Array(w * h);
  for (let y = 0; y < h; y++)
    for (let x = 0; x < w; x++) {
      const at = 2 * y * widthPx + 2 * x;
      out[y * w + x] = (grey[at] + grey[at + 1] + grey[at + widthPx] + grey[at + widthPx + 1] + 2) >> 2;
    }
  return { widthPx: w, heightPx: h, grey: out };
}

/** Twice the size, bilinear: pixel (x, y) of the result lies at (x / 2 - 1/4, y / 2 - 1/4) of the picture. */
export function doubled(image: GreyImage): GreyImage {
  const w = 2 * image.widthPx;
  const h = 2 * image.heightPx;
  const out = new Uint8Array(w * h);
  for (let y = 0; y < h; y++)
    for (let x = 0; x < w; x++) out[y * w + x] = greyAt(image, x / 2 - 0.25, y / 2 - 0.25) + 0.5;
  return { widthPx: w, heightPx: h, grey: out };
}
