import type { Lens } from '../camera/Lens.ts';

/** Number of coefficients of the residual field: ten terms of degree 3 in each of u and v. */
export const RESIDUAL_FIELD_LENGTH = 20;

/** The terms of a polynomial of the given degree in two variables: 1, x, y, x², xy, y², x³, x²y, xy², y³. */
export function polynomialTerms(x: number, y: number, degree: 0 | 1 | 2 | 3): number[] {
  if (degree === 0) return [1];
  const terms = [1, x, y];
  if (degree >= 2) terms.push(x * x, x * y, y * y);
  if (degree >= 3) terms.push(x * x * x, x * x * y, x * y * y, y * y * y);
  return terms;
}

/** uv pixels scaled to about [-1, 1], as the residual field and the plane models take them. */
export const fieldScale = (uv: Lens): { centrePx: readonly [number, number]; halfWidthPx: number } => ({
  centrePx: [(uv.widthPx - 1) / 2, (uv.heightPx - 1) / 2],
  halfWidthPx: uv.widthPx / 2,
});

/** What the residual field adds to the colour pixel, px; zero where there is no field. */
export function residualFieldPx(field: readonly number[], uv: Lens, u: number, v: number): readonly [number, number] {
  if (field.length === 0) return [0, 0];
  const { centrePx, halfWidthPx } = fieldScale(uv);
  const terms = polynomialTerms((u - centrePx[0]) / halfWidthPx, (v - centrePx[1]) / halfWidthPx, 3);
  let du = 0;
  let dv = 0;
  for (let i = 0; i < terms.length; i++) {
    du += field[i] * terms[i];
    dv += field[terms.length + i] * terms[i];
  }
  return [du, dv];
}

/** Its derivatives [du/du, du/dv, dv/du, dv/dv] by the uv pixel. */
export function residualFieldSlope(
  field: readonly number[],
  uv: Lens,
  u: number,
  v: number,
): readonly [number, number, number, number] {
  if (field.length === 0) return [0, 0, 0, 0];
  const { centrePx, halfWidthPx } = fieldScale(uv);
  const x = (u - centrePx[0]) / halfWidthPx;
  const y = (v - centrePx[1]) / halfWidthPx;
  const byX = [0, 1, 0, 2 * x, y, 0, 3 * x * x, 2 * x * y, y * y, 0];
  const byY = [0, 0, 1, 0, x, 2 * y, 0, x * x, 2 * x * y, 3 * y * y];
  const sum = (terms: number[], offset: number): number =>
    terms.reduce((s, t, i) => s + t * field[offset + i], 0) / halfWidthPx;
  return [sum(byX, 0), sum(byY, 0), sum(byX, 10), sum(byY, 10)];
}
