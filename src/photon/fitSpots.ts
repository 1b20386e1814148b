/** A spot fitted to the signal of one frame. */
export interface FittedSpot {
  readonly xPx: number;
  readonly yPx: number;
  /** Summed signal, DN. */
  readonly charge: number;
  /** Standard deviation of the centre, mean of both axes, px. */
  readonly sigmaPx: number;
}

/** Signal above dark around one or more spots: pixel by pixel, any shape. */
export interface SpotWindow {
  /** Box around the pixels: what depends on a column or a row alone is computed once for each. */
  readonly leftPx: number;
  readonly topPx: number;
  readonly columns: number;
  readonly rows: number;
  readonly count: number;
  readonly x: Float64Array;
  readonly y: Float64Array;
  readonly signal: Float64Array;
  /** Variance of the signal without light, DN². */
  readonly variance: Float64Array;
}

export interface SpotFit {
  readonly spots: FittedSpot[];
  readonly chiSquare: number;
  /** Whitened residual of each pixel of the window. */
  readonly residual: Float64Array;
}

/** Share of the model's own value that real spots differ from a Gaussian by; keeps bright spots from being split for it. */
const SHAPE_ERROR = 0.04;

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
  const n = window.count;
  const weight = new Float64Array(n);
  for (let i = 0; i < n; i++) weight[i] = 1 / window.variance[i];
  for (let a = 0; a < k; a++) {
    p[3 * a] = starts[a].xPx;
    p[3 * a + 1] = starts[a].yPx;
  }
  const normal = new Float64Array(m * m);
  const gradient = new Float64Array(m);
  const row = new Float64Array(m);
  const residual = new Float64Array(n);
  const { columns, rows, leftPx, topPx } = window;
  const across = Array.from({ length: k }, () => new Float64Array(columns));
  const down = Array.from({ length: k }, () => new Float64Array(rows));

  // The charges enter linearly: with positions held, one linear solve starts them right.
  if (!solveCharges(window, p, k, s2, norm, weight)) return null;
  let chiSquare = 0;
  for (let round = 0; round < 12; round++) {
    normal.fill(0);
    gradient.fill(0);
    chiSquare = 0;
    for (let a = 0; a < k; a++) {
      bellInto(across[a], leftPx - p[3 * a], s2);
      bellInto(down[a], topPx - p[3 * a + 1], s2);
    }
    for (let i = 0; i < n; i++) {
      let value = 0;
      for (let a = 0; a < k; a++) {
        const dx = window.x[i] - p[3 * a];
        const dy = window.y[i] - p[3 * a + 1];
        const g = norm * across[a][window.x[i] - leftPx] * down[a][window.y[i] - topPx];
        const q = p[3 * a + 2];
        value += q * g;
        row[3 * a] = (q * g * dx) / s2;
        row[3 * a + 1] = (q * g * dy) / s2;
        row[3 * a + 2] = g;
      }
      const shape = SHAPE_ERROR * value;
      const w = 1 / (window.variance[i] + shape * shape);
      weight[i] = w;
      const r = window.signal[i] - value;
      residual[i] = r * Math.sqrt(w);
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
    if (largest < 1e-4) break;
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
  return { spots, chiSquare, residual };
}

/** chi² of a single spot of another radius at the best charge, centre given: what tells a lone pixel from a spot. */
export function chiSquareOfRadius(window: SpotWindow, xPx: number, yPx: number, sigmaPx: number): number {
  const s2 = sigmaPx * sigmaPx + 1 / 12;
  const across = bellInto(new Float64Array(window.columns), window.leftPx - xPx, s2);
  const down = bellInto(new Float64Array(window.rows), window.topPx - yPx, s2);
  let gg = 0;
  let gs = 0;
  let ss = 0;
  for (let i = 0; i < window.count; i++) {
    const g = across[window.x[i] - window.leftPx] * down[window.y[i] - window.topPx];
    const w = 1 / window.variance[i];
    gg += w * g * g;
    gs += w * g * window.signal[i];
    ss += w * window.signal[i] * window.signal[i];
  }
  return ss - (gs * gs) / gg;
}

/** exp(-d² / 2 s2) at d = first, first + 1, ... A Gaussian spot is the product of one across and one down. */
function bellInto(out: Float64Array, first: number, s2: number): Float64Array {
  for (let i = 0; i < out.length; i++) out[i] = Math.exp(-((first + i) * (first + i)) / (2 * s2));
  return out;
}

/**
 * `fitSpots` for one spot, which most events are: the same steps with the 3 x 3 normal equations written out, at a
 * fraction of the time.
 */
export function fitOneSpot(
  window: SpotWindow,
  start: { readonly xPx: number; readonly yPx: number },
  spotSigmaPx: number,
): SpotFit | null {
  const { count, x, y, signal, variance, leftPx, topPx } = window;
  const s2 = spotSigmaPx * spotSigmaPx + 1 / 12;
  const norm = 1 / (2 * Math.PI * s2);
  const across = new Float64Array(window.columns);
  const down = new Float64Array(window.rows);
  const residual = new Float64Array(count);
  let px = start.xPx;
  let py = start.yPx;
  bellInto(across, leftPx - px, s2);
  bellInto(down, topPx - py, s2);
  // With the position held, one linear solve starts the charge right.
  let [gg, gs] = [0, 0];
  for (let i = 0; i < count; i++) {
    const g = norm * across[x[i] - leftPx] * down[y[i] - topPx];
    gg += (g * g) / variance[i];
    gs += (g * signal[i]) / variance[i];
  }
  if (!(gg > 0)) return null;
  let charge = Math.max(1, gs / gg);
  let chiSquare = 0;
  let [cx, cy] = [Number.NaN, Number.NaN];
  for (let round = 0; round < 12; round++) {
    let [xx, xy, xq, yy, yq, qq, gx, gy, gq] = [0, 0, 0, 0, 0, 0, 0, 0, 0];
    chiSquare = 0;
    for (let i = 0; i < count; i++) {
      const g = norm * across[x[i] - leftPx] * down[y[i] - topPx];
      const value = charge * g;
      const byX = (value * (x[i] - px)) / s2;
      const byY = (value * (y[i] - py)) / s2;
      const shape = SHAPE_ERROR * value;
      const w = 1 / (variance[i] + shape * shape);
      const r = signal[i] - value;
      residual[i] = r * Math.sqrt(w);
      chiSquare += r * r * w;
      const wx = w * byX;
      const wy = w * byY;
      const wq = w * g;
      xx += wx * byX;
      xy += wx * byY;
      xq += wx * g;
      yy += wy * byY;
      yq += wy * g;
      qq += wq * g;
      gx += wx * r;
      gy += wy * r;
      gq += wq * r;
    }
    // Cholesky factor, rows x, y, charge; a pivot that cancels to nothing means singular, as in `cholesky`.
    const l00 = Math.sqrt(xx);
    const l10 = xy / l00;
    const d1 = yy - l10 * l10;
    const l11 = Math.sqrt(d1);
    const l20 = xq / l00;
    const l21 = (yq - l20 * l10) / l11;
    const d2 = qq - l20 * l20 - l21 * l21;
    if (!(xx > 0 && d1 > 1e-12 * yy && d2 > 1e-12 * qq)) return null;
    const l22 = Math.sqrt(d2);
    const z0 = gx / l00;
    const z1 = (gy - l10 * z0) / l11;
    const z2 = (gq - l20 * z0 - l21 * z1) / l22;
    const stepCharge = z2 / l22;
    const stepY = (z1 - l21 * stepCharge) / l11;
    const stepX = (z0 - l10 * stepY - l20 * stepCharge) / l00;
    // Diagonal of the inverse: squared columns of the inverse factor.
    const i10 = -l10 / (l00 * l11);
    const i21 = -l21 / (l11 * l22);
    const i20 = -(l20 / l00 + l21 * i10) / l22;
    cx = 1 / xx + i10 * i10 + i20 * i20;
    cy = 1 / d1 + i21 * i21;
    // A step longer than a sigma leaves the region where the linear model holds.
    const size = Math.sqrt(stepX * stepX + stepY * stepY);
    const shorten = size > spotSigmaPx ? spotSigmaPx / size : 1;
    px += stepX * shorten;
    py += stepY * shorten;
    charge = Math.max(1e-3, charge + stepCharge);
    if (size * shorten < 1e-4) break;
    bellInto(across, leftPx - px, s2);
    bellInto(down, topPx - py, s2);
  }
  if (Math.hypot(px - start.xPx, py - start.yPx) > 3 * spotSigmaPx + 1) return null;
  if (!(cx > 0) || !(cy > 0)) return null;
  return { spots: [{ xPx: px, yPx: py, charge, sigmaPx: Math.sqrt((cx + cy) / 2) }], chiSquare, residual };
}

function solveCharges(
  window: SpotWindow,
  p: Float64Array,
  k: number,
  s2: number,
  norm: number,
  weight: Float64Array,
): boolean {
  const normal = new Float64Array(k * k);
  const right = new Float64Array(k);
  const g = new Float64Array(k);
  for (let i = 0; i < window.count; i++) {
    for (let a = 0; a < k; a++) {
      const dx = window.x[i] - p[3 * a];
      const dy = window.y[i] - p[3 * a + 1];
      g[a] = norm * Math.exp(-(dx * dx + dy * dy) / (2 * s2));
    }
    for (let a = 0; a < k; a++) {
      right[a] += g[a] * window.signal[i] * weight[i];
      for (let b = a; b < k; b++) normal[a * k + b] += g[a] * g[b] * weight[i];
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
