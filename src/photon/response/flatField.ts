import { CholeskyDecomposition, Matrix } from 'ml-matrix';
import { chiSquareTail } from '../../maths/distributions.ts';

/**
 * How the camera's response to even light falls off over the picture: ln(response) = a x + b y + c (x² - m) + d x y + e (y² - m), with x and y
 * from -1 to 1 across the picture and m = 1/3, and all divided by its mean over the picture.
 */
export interface FlatField {
  /** a, b, c, d, e. */
  readonly coefficients: readonly [number, number, number, number, number];
  /** 5 x 5, row by row. */
  readonly covariance: readonly number[];
}

export type FlatFieldMeasurement =
  | {
      readonly kind: 'measured';
      readonly flatField: FlatField;
      readonly events: number;
      readonly columns: number;
      readonly rows: number;
      /** Counts over what even light would give, cell by cell, rows from the top. */
      readonly cells: readonly number[];
      /** Chance of so uneven counts under an even response (likelihood ratio, 5 degrees of freedom). */
      readonly evenChance: number;
      /** Chance of a worse fit of the surface (Pearson's chi-square of the cells). */
      readonly goodness: number;
      /** Least and greatest response of the surface over the picture. */
      readonly least: number;
      readonly greatest: number;
    }
  | { readonly kind: 'refused'; readonly because: 'too few events' };

/** Events at the border are cut off or shifted inwards. */
const MARGIN_PX = 4;
/** Cells should hold this many events so that chi-square is a chi-square. */
const EVENTS_A_CELL = 20;
const TERMS = 6;

/**
 * Poisson regression of the events of even light, on top of a dark background known from frames without light.
 * @param xPx, yPx     events of the frames with light
 * @param darkEvents   how many of them are expected to be dark events, spread evenly
 * Source: McCullagh & Nelder, Generalized Linear Models, 2nd ed. 1989, ch. 6 (from memory).
 */
export function measureFlatField(
  size: { readonly widthPx: number; readonly heightPx: number },
  xPx: ArrayLike<number>,
  yPx: ArrayLike<number>,
  darkEvents: number,
): FlatFieldMeasurement {
  const wide = size.widthPx - 2 * MARGIN_PX;
  const high = size.heightPx - 2 * MARGIN_PX;
  const most = xPx.length / EVENTS_A_CELL;
  const columns = Math.min(24, Math.floor(Math.sqrt((most * wide) / high)));
  const rows = Math.min(24, Math.floor((columns * high) / wide));
  if (columns < 4 || rows < 4) return { kind: 'refused', because: 'too few events' };
  const counts = new Float64Array(columns * rows);
  let events = 0;
  for (let i = 0; i < xPx.length; i++) {
    const column = Math.floor(((xPx[i] + 0.5 - MARGIN_PX) / wide) * columns);
    const row = Math.floor(((yPx[i] + 0.5 - MARGIN_PX) / high) * rows);
    if (column < 0 || column >= columns || row < 0 || row >= rows) continue;
    counts[row * columns + column]++;
    events++;
  }
  const dark = (darkEvents * events) / Math.max(1, xPx.length) / counts.length;
  const terms = Array.from(counts, (_, cell) => {
    const x = ((((cell % columns) + 0.5) / columns) * 2 - 1) * (wide / size.widthPx);
    const y = (((Math.floor(cell / columns) + 0.5) / rows) * 2 - 1) * (high / size.heightPx);
    return [1, ...surfaceTerms(x, y)];
  });
  const fit = regress(counts, terms, dark);
  if (!fit) return { kind: 'refused', because: 'too few events' };
  const mean = events / counts.length;
  const logRatio = (n: number, expected: number): number => (n > 0 ? n * Math.log(n / expected) : 0) - (n - expected);
  let [deviance, evenDeviance, chiSquare] = [0, 0, 0];
  for (let i = 0; i < counts.length; i++) {
    deviance += 2 * logRatio(counts[i], fit.expected[i]);
    evenDeviance += 2 * logRatio(counts[i], mean);
    chiSquare += (counts[i] - fit.expected[i]) ** 2 / fit.expected[i];
  }
  const [, a, b, c, d, e] = fit.parameters;
  const covariance = Array.from({ length: 25 }, (_, k) => fit.covariance.get(1 + Math.floor(k / 5), 1 + (k % 5)));
  const flatField: FlatField = { coefficients: [a, b, c, d, e], covariance };
  const response = responseOf(flatField, size);
  let [least, greatest] = [Number.POSITIVE_INFINITY, 0];
  for (let j = 0; j <= 16; j++)
    for (let i = 0; i <= 16; i++) {
      const here = response((i / 16) * size.widthPx - 0.5, (j / 16) * size.heightPx - 0.5);
      least = Math.min(least, here);
      greatest = Math.max(greatest, here);
    }
  return {
    kind: 'measured',
    flatField,
    events,
    columns,
    rows,
    cells: Array.from(counts, (n) => (n - dark) / (mean - dark)),
    evenChance: chiSquareTail(evenDeviance - deviance, TERMS - 1),
    goodness: chiSquareTail(chiSquare, counts.length - TERMS),
    least,
    greatest,
  };
}

/** The terms of the surface, x and y from -1 to 1 across the picture. */
export const surfaceTerms = (x: number, y: number): readonly number[] => [x, y, x * x - 1 / 3, x * y, y * y - 1 / 3];

/** The response at a pixel, 1 in the mean over the picture. */
export function responseOf(
  { coefficients }: Pick<FlatField, 'coefficients'>,
  { widthPx, heightPx }: { readonly widthPx: number; readonly heightPx: number },
): (xPx: number, yPx: number) => number {
  const raw = (x: number, y: number): number =>
    Math.exp(surfaceTerms(x, y).reduce((sum, term, k) => sum + coefficients[k] * term, 0));
  const steps = 32;
  let sum = 0;
  for (let j = 0; j < steps; j++)
    for (let i = 0; i < steps; i++) sum += raw((2 * i + 1) / steps - 1, (2 * j + 1) / steps - 1);
  const mean = sum / (steps * steps);
  return (xPx, yPx) => raw((2 * (xPx + 0.5)) / widthPx - 1, (2 * (yPx + 0.5)) / heightPx - 1) / mean;
}

/** Poisson means `background + exp(terms · parameters)` by scoring; null where it does not settle. */
function regress(
  counts: Float64Array,
  terms: readonly (readonly number[])[],
  background: number,
): { readonly parameters: number[]; readonly covariance: Matrix; readonly expected: Float64Array } | null {
  const total = counts.reduce((sum, n) => sum + n, 0);
  const parameters = [Math.log(Math.max(1e-6, total / counts.length - background)), 0, 0, 0, 0, 0];
  const expected = new Float64Array(counts.length);
  for (let round = 0; round < 50; round++) {
    const information = Matrix.zeros(TERMS, TERMS);
    const gradient = new Float64Array(TERMS);
    for (let i = 0; i < counts.length; i++) {
      const light = Math.exp(terms[i].reduce((sum, t, k) => sum + t * parameters[k], 0));
      expected[i] = background + light;
      for (let k = 0; k < TERMS; k++) {
        gradient[k] += (counts[i] / expected[i] - 1) * light * terms[i][k];
        for (let l = 0; l <= k; l++) {
          const share = information.get(k, l) + ((light * light) / expected[i]) * terms[i][k] * terms[i][l];
          information.set(k, l, share);
          information.set(l, k, share);
        }
      }
    }
    const cholesky = new CholeskyDecomposition(information);
    if (!cholesky.isPositiveDefinite()) return null;
    const step = cholesky.solve(Matrix.columnVector(Array.from(gradient))).getColumn(0);
    const longest = Math.max(...step.map(Math.abs));
    for (let k = 0; k < TERMS; k++) parameters[k] += step[k] * Math.min(1, 0.5 / longest);
    if (longest < 1e-9) return { parameters, covariance: cholesky.solve(Matrix.eye(TERMS)), expected };
  }
  return null;
}
