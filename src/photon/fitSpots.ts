import { bellInto, type SpotWindow } from './SpotWindow.ts';

/** A spot fitted to the signal of one frame. */
export interface FittedSpot {
  readonly xPx: number;
  readonly yPx: number;
  /** Summed signal, DN. */
  readonly charge: number;
  /** Standard deviation of the centre, mean of both axes, px. */
  readonly sigmaPx: number;
}

export interface SpotFit {
  readonly spots: FittedSpot[];
  readonly chiSquare: number;
}

/** A step this small ends a fit of one spot, whose next step would be many times smaller; overlapping spots converge slowly. */
export const CONVERGED_PX = 1e-3;
const CONVERGED_TOGETHER_PX = 1e-4;
/** Share of the model's own value that real spots differ from a Gaussian by; keeps bright spots from being split for it. */
export const SHAPE_ERROR = 0.04;

/**
 * Maximum likelihood fit of k spots of known size, position and charge free, to Gaussian noise of known variance
 * (Gauss-Newton, weights from the dark noise and the model's own uncertainty of shape). The pixel's width is taken into
 * account by adding 1/12 to the squared radius, right to 1e-3 of the peak for sigma >= 1 px.
 * @param worthBelow give up where chi² is still not below this after six rounds, as the fit would not be taken anyway
 * @returns null where the normal equations are singular, a spot leaves the window, or the fit was given up
 */
export function fitSpots(
  window: SpotWindow,
  starts: readonly { xPx: number; yPx: number }[],
  spotSigmaPx: number,
  worthBelow = Number.POSITIVE_INFINITY,
): SpotFit | null {
  const k = starts.length;
  const m = 3 * k;
  const s2 = spotSigmaPx * spotSigmaPx + 1 / 12;
  const norm = 1 / (2 * Math.PI * s2);
  const p = new Float64Array(m);
  const { signal, variance, columns, rows, leftPx, topPx } = window;
  for (let a = 0; a < k; a++) {
    p[3 * a] = starts[a].xPx;
    p[3 * a + 1] = starts[a].yPx;
  }
  const normal = new Float64Array(m * m);
  const gradient = new Float64Array(m);
  const row = new Float64Array(m);
  const across = Array.from({ length: k }, () => new Float64Array(columns));
  const down = Array.from({ length: k }, () => new Float64Array(rows));

  // The charges enter linearly: with positions held, one linear solve starts them right.
  if (!solveCharges(window, p, k, s2, norm)) return null;
  let chiSquare = 0;
  for (let round = 0; round < 12; round++) {
    normal.fill(0);
    gradient.fill(0);
    chiSquare = 0;
    for (let a = 0; a < k; a++) {
      bellInto(across[a], columns, leftPx - p[3 * a], s2);
      bellInto(down[a], rows, topPx - p[3 * a + 1], s2);
    }
    for (let i = 0; i < columns * rows; i++) {
      if (variance[i] === Number.POSITIVE_INFINITY) continue;
      const column = i % columns;
      const line = (i - column) / columns;
      let value = 0;
      for (let a = 0; a < k; a++) {
        const g = norm * across[a][column] * down[a][line];
        const q = p[3 * a + 2];
        value += q * g;
        row[3 * a] = (q * g * (leftPx + column - p[3 * a])) / s2;
        row[3 * a + 1] = (q * g * (topPx + line - p[3 * a + 1])) / s2;
        row[3 * a + 2] = g;
      }
      const shape = SHAPE_ERROR * value;
      const w = 1 / (variance[i] + shape * shape);
      const r = signal[i] - value;
      chiSquare += r * r * w;
      for (let a = 0; a < m; a++) {
        const wa = row[a] * w;
        gradient[a] += wa * r;
        for (let b = a; b < m; b++) normal[a * m + b] += wa * row[b];
      }
    }
    if (round === 6 && chiSquare >= worthBelow) return null;
    const step = solveUpper(normal, gradient, m);
    if (!step) return null;
    let largest = 0;
    for (let a = 0; a < k; a++) {
      // A step longer than a sigma leaves the region where the linear model holds.
      const size = Math.hypot(step[3 * a], step[3 * a + 1]);
      const shorten = size > spotSigmaPx ? spotSigmaPx / size : 1;
      p[3 * a] += step[3 * a] * shorten;
      p[3 * a + 1] += step[3 * a + 1] * shorten;
      p[3 * a + 2] = Math.max(1e-3, p[3 * a + 2] + step[3 * a + 2]);
      largest = Math.max(largest, size * shorten);
    }
    if (largest < (k === 1 ? CONVERGED_PX : CONVERGED_TOGETHER_PX)) break;
  }
  const spots: FittedSpot[] = [];
  for (let a = 0; a < k; a++) {
    const xPx = p[3 * a];
    const yPx = p[3 * a + 1];
    if (Math.hypot(xPx - starts[a].xPx, yPx - starts[a].yPx) > 3 * spotSigmaPx + 1) return null;
    const cx = inverseDiagonal(normal, m, 3 * a);
    const cy = inverseDiagonal(normal, m, 3 * a + 1);
    if (!(cx > 0) || !(cy > 0)) return null;
    spots.push({ xPx, yPx, charge: p[3 * a + 2], sigmaPx: Math.sqrt((cx + cy) / 2) });
  }
  return { spots, chiSquare };
}

/** Signal that spots leave unexplained, summed over a window, DN. */
export function unexplainedDn(window: SpotWindow, spots: readonly FittedSpot[], spotSigmaPx: number): number {
  const { signal, columns, rows, leftPx, topPx, across, down } = window;
  const s2 = spotSigmaPx * spotSigmaPx + 1 / 12;
  let sum = 0;
  for (let i = 0; i < columns * rows; i++) sum += signal[i];
  for (const { xPx, yPx, charge } of spots) {
    bellInto(across, columns, leftPx - xPx, s2);
    bellInto(down, rows, topPx - yPx, s2);
    const peak = charge / (2 * Math.PI * s2);
    for (let row = 0, i = 0; row < rows; row++)
      for (let column = 0; column < columns; column++, i++)
        if (window.variance[i] !== Number.POSITIVE_INFINITY) sum -= peak * across[column] * down[row];
  }
  return sum;
}

/**
 * What a fit leaves: the residual of each pixel of the window over its standard deviation, row by row; 0 where a pixel takes no
 * part.
 */
export function whitenedResidual(window: SpotWindow, spots: readonly FittedSpot[], spotSigmaPx: number): Float64Array {
  const { signal, variance, leftPx, topPx, columns, rows, across, down } = window;
  const s2 = spotSigmaPx * spotSigmaPx + 1 / 12;
  const value = new Float64Array(columns * rows);
  for (const { xPx, yPx, charge } of spots) {
    bellInto(across, columns, leftPx - xPx, s2);
    bellInto(down, rows, topPx - yPx, s2);
    for (let row = 0, i = 0; row < rows; row++)
      for (let column = 0; column < columns; column++, i++)
        value[i] += (charge / (2 * Math.PI * s2)) * down[row] * across[column];
  }
  return value.map((light, i) => (signal[i] - light) / Math.sqrt(variance[i] + (SHAPE_ERROR * light) ** 2));
}

function solveCharges(window: SpotWindow, p: Float64Array, k: number, s2: number, norm: number): boolean {
  const { signal, variance, columns, rows, leftPx, topPx } = window;
  const normal = new Float64Array(k * k);
  const right = new Float64Array(k);
  const g = new Float64Array(k);
  for (let i = 0; i < columns * rows; i++) {
    if (variance[i] === Number.POSITIVE_INFINITY) continue;
    const column = i % columns;
    for (let a = 0; a < k; a++) {
      const dx = leftPx + column - p[3 * a];
      const dy = topPx + (i - column) / columns - p[3 * a + 1];
      g[a] = norm * Math.exp(-(dx * dx + dy * dy) / (2 * s2));
    }
    for (let a = 0; a < k; a++) {
      right[a] += (g[a] * signal[i]) / variance[i];
      for (let b = a; b < k; b++) normal[a * k + b] += (g[a] * g[b]) / variance[i];
    }
  }
  const charges = solveUpper(normal, right, k);
  if (!charges) return false;
  for (let a = 0; a < k; a++) p[3 * a + 2] = Math.max(1, charges[a]);
  return true;
}

/** Cholesky factor of a symmetric matrix given by its upper triangle, or null where it is not positive definite. */
function cholesky(upper: Float64Array, m: number): Float64Array | null {
  const l = new Float64Array(m * m);
  for (let a = 0; a < m; a++) {
    for (let b = 0; b <= a; b++) {
      let sum = upper[b * m + a];
      for (let c = 0; c < b; c++) sum -= l[a * m + c] * l[b * m + c];
      if (a === b) {
        if (!(sum > 1e-12 * upper[a * m + a])) return null;
        l[a * m + a] = Math.sqrt(sum);
      } else l[a * m + b] = sum / l[b * m + b];
    }
  }
  return l;
}

function solveUpper(upper: Float64Array, right: Float64Array, m: number): Float64Array | null {
  const l = cholesky(upper, m);
  if (!l) return null;
  const x = Float64Array.from(right);
  for (let a = 0; a < m; a++) {
    for (let c = 0; c < a; c++) x[a] -= l[a * m + c] * x[c];
    x[a] /= l[a * m + a];
  }
  for (let a = m - 1; a >= 0; a--) {
    for (let c = a + 1; c < m; c++) x[a] -= l[c * m + a] * x[c];
    x[a] /= l[a * m + a];
  }
  return x;
}

function inverseDiagonal(upper: Float64Array, m: number, index: number): number {
  const right = new Float64Array(m);
  right[index] = 1;
  return solveUpper(upper, right, m)?.[index] ?? Number.NaN;
}
