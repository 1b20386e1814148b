/**
 * Pixel coordinates of the two cameras, branded so that the compiler refuses one where the other is meant.
 * (0, 0) is the centre of the top left pixel, u to the right, v down. Only `uvPx` and `colourPx` make them.
 */
export type UvPx = readonly [u: number, v: number] & { readonly image: 'uv' };
export type ColourPx = readonly [u: number, v: number] & { readonly image: 'colour' };

/** A pixel of a camera that need not be known, as in the lens model. */
export type Px = readonly [u: number, v: number];

export const uvPx = (u: number, v: number): UvPx => [u, v] as unknown as UvPx;
export const colourPx = (u: number, v: number): ColourPx => [u, v] as unknown as ColourPx;
