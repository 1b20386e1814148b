import type { Lens } from '../camera/Lens.ts';

/** Length of the array that `projectWithAllDerivativesInto` fills: u, v, 2 x 3 by the point, 2 x 9 by the lens. */
export const PROJECTION_LENGTH = 2 + 6 + 18;

/**
 * A projection with its derivatives by the point and by the nine lens parameters, for the inner loop of an adjustment.
 * @param out    length PROJECTION_LENGTH: [u, v, du/dX, du/dY, du/dZ, dv/dX, dv/dY, dv/dZ, du/d(lens) 9, dv/d(lens) 9],
 *               lens parameters in the order of LENS_PARAMETERS
 * @param lens   the nine parameters in that order
 * @returns      false where the point is not in front of the camera; `out` is then unchanged
 * The fold of the lens is not looked at: an adjustment passes through lenses that fold, and ends at one that does not.
 */
export function projectWithAllDerivativesInto(
  out: Float64Array,
  X: number,
  Y: number,
  Z: number,
  lens: ArrayLike<number>,
): boolean {
  if (!(Z > 1e-9)) return false;
  const fx = lens[0];
  const fy = lens[1];
  const k1 = lens[4];
  const k2 = lens[5];
  const p1 = lens[6];
  const p2 = lens[7];
  const k3 = lens[8];
  const iz = 1 / Z;
  const x = X * iz;
  const y = Y * iz;
  const xy2 = 2 * x * y;
  const r2 = x * x + y * y;
  const r4 = r2 * r2;
  const r6 = r4 * r2;
  const radial = 1 + k1 * r2 + k2 * r4 + k3 * r6;
  const slope = 2 * (k1 + 2 * k2 * r2 + 3 * k3 * r4);
  const tangentX = r2 + 2 * x * x;
  const tangentY = r2 + 2 * y * y;
  const xd = x * radial + p1 * xy2 + p2 * tangentX;
  const yd = y * radial + p1 * tangentY + p2 * xy2;
  const a = radial + x * x * slope + 2 * p1 * y + 6 * p2 * x;
  const b = x * y * slope + 2 * p1 * x + 2 * p2 * y;
  const d = radial + y * y * slope + 6 * p1 * y + 2 * p2 * x;
  out[0] = fx * xd + lens[2];
  out[1] = fy * yd + lens[3];
  out[2] = fx * a * iz;
  out[3] = fx * b * iz;
  out[4] = -fx * (a * x + b * y) * iz;
  out[5] = fy * b * iz;
  out[6] = fy * d * iz;
  out[7] = -fy * (b * x + d * y) * iz;
  out[8] = xd;
  out[9] = 0;
  out[10] = 1;
  out[11] = 0;
  out[12] = fx * x * r2;
  out[13] = fx * x * r4;
  out[14] = fx * xy2;
  out[15] = fx * tangentX;
  out[16] = fx * x * r6;
  out[17] = 0;
  out[18] = yd;
  out[19] = 0;
  out[20] = 1;
  out[21] = fy * y * r2;
  out[22] = fy * y * r4;
  out[23] = fy * tangentY;
  out[24] = fy * xy2;
  out[25] = fy * y * r6;
  return true;
}

export const lensVector = (lens: Lens): Float64Array =>
  Float64Array.of(lens.fxPx, lens.fyPx, lens.cxPx, lens.cyPx, lens.k1, lens.k2, lens.p1, lens.p2, lens.k3);

export const lensFromVector = (
  v: ArrayLike<number>,
  size: { readonly widthPx: number; readonly heightPx: number },
  offset = 0,
): Lens => ({
  widthPx: size.widthPx,
  heightPx: size.heightPx,
  fxPx: v[offset],
  fyPx: v[offset + 1],
  cxPx: v[offset + 2],
  cyPx: v[offset + 3],
  k1: v[offset + 4],
  k2: v[offset + 5],
  p1: v[offset + 6],
  p2: v[offset + 7],
  k3: v[offset + 8],
});
