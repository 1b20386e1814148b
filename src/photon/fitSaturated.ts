import { normalCdf as normalShareBelow } from '../maths/distributions.ts';

/** Signal around a glow some of whose pixels are at the sensor's limit; all arrays of one length. */
export interface GlowPixels {
  readonly x: Float64Array;
  readonly y: Float64Array;
  /** Above the dark level, DN. */
  readonly signal: Float64Array;
  /** Variance without light, DN². */
  readonly variance: Float64Array;
  /** 1 where the pixel says how bright it is; 0 at the limit and next to such a pixel. */
  readonly tells: Uint8Array;
}

/** Fewer telling pixels than this leave the shape open. */
const FEWEST_PIXELS = 16;
/** Where the hidden part would be more than this many times what is seen, the wings say too little of it. */
const MOST_HIDDEN = 300;
const ROUNDS = 40;

/**
 * The whole charge of a glow with a saturated core: a round Gaussian drawn out along a straight way (the smear of a moving scene) is
 * fitted to the pixels that are below the limit, by weighted least squares, and gives the charge of those that are not.
 * @param noisePerDn variance that the photons themselves add, DN² per DN of signal
 * @param startSigmaPx radius of a single spot
 * @returns charge, centre of the fitted shape, and the light pixel by pixel, fitted where hidden; null where the wings do not say enough
 */
export function fitSaturated(
  pixels: GlowPixels,
  noisePerDn: number,
  startSigmaPx: number,
): { charge: number; xPx: number; yPx: number; lightDn: Float64Array } | null {
  const telling: number[] = [];
  let [seen, sx, sy] = [0, 0, 0];
  for (let i = 0; i < pixels.x.length; i++) {
    if (pixels.tells[i] === 1) telling.push(i);
    seen += pixels.signal[i];
    sx += pixels.signal[i] * pixels.x[i];
    sy += pixels.signal[i] * pixels.y[i];
  }
  if (telling.length < FEWEST_PIXELS) return null;
  const [xPx, yPx] = [sx / seen, sy / seen];
  let [xx, yy, xy] = [0, 0, 0];
  for (let i = 0; i < pixels.x.length; i++) {
    const [dx, dy] = [pixels.x[i] - xPx, pixels.y[i] - yPx];
    xx += (pixels.signal[i] * dx * dx) / seen;
    yy += (pixels.signal[i] * dy * dy) / seen;
    xy += (pixels.signal[i] * dx * dy) / seen;
  }
  // Longer one way than the other by so much variance: a way of length 2 h has h² / 3.
  const excess = Math.hypot(xx - yy, 2 * xy);
  const angle = Math.atan2(2 * xy, xx - yy) / 2;
  // The clipped core hides some of the length: at least a radius to start from.
  const half = Math.max(startSigmaPx, Math.sqrt(3 * excess));
  const start = [Math.log(2 * seen), xPx, yPx, Math.log(1.2 * startSigmaPx)];
  const round = descend(pixels, telling, noisePerDn, start);
  const way = [half * Math.cos(angle), half * Math.sin(angle)];
  const drawn = descend(pixels, telling, noisePerDn, [...start, ...way]);
  // Two more numbers must earn their keep (Akaike 1974, from memory).
  const best = drawn && (!round || drawn.misfit < round.misfit - 4) ? drawn : round;
  if (!best) return null;
  let charge = 0;
  let hidden = 0;
  const lightDn = Float64Array.from(pixels.signal);
  for (let i = 0; i < pixels.x.length; i++)
    if (pixels.tells[i] === 1) charge += pixels.signal[i];
    else {
      lightDn[i] = brightness(best.shape, pixels.x[i], pixels.y[i]);
      hidden += lightDn[i];
    }
  if (!(hidden < MOST_HIDDEN * charge)) return null;
  return { charge: charge + hidden, xPx: best.shape[1], yPx: best.shape[2], lightDn };
}

/** ln charge, centre, ln radius, and half the way, px. */
type Shape = readonly number[];

function brightness([lnCharge, cx, cy, lnSigma, hx = 0, hy = 0]: Shape, x: number, y: number): number {
  const sigma = Math.exp(lnSigma);
  // Far out in the wings the light within a pixel changes much: a round spot is integrated over it.
  if (hx === 0 && hy === 0)
    return Math.exp(lnCharge) * pixelShare((x - cx) / sigma, sigma) * pixelShare((y - cy) / sigma, sigma);
  const s2 = sigma * sigma + 1 / 12;
  const s = Math.sqrt(s2);
  const half = Math.hypot(hx, hy);
  const [ex, ey] = half > 0 ? [hx / half, hy / half] : [1, 0];
  const along = (x - cx) * ex + (y - cy) * ey;
  const across = (y - cy) * ex - (x - cx) * ey;
  const crossPart = Math.exp((-across * across) / (2 * s2)) / (Math.sqrt(2 * Math.PI) * s);
  const alongPart =
    half < 0.05 * s
      ? Math.exp((-along * along) / (2 * s2)) / (Math.sqrt(2 * Math.PI) * s)
      : (normalShareBelow((along + half) / s) - normalShareBelow((along - half) / s)) / (2 * half);
  return Math.exp(lnCharge) * crossPart * alongPart;
}

const pixelShare = (z: number, sigma: number): number =>
  normalShareBelow(-Math.abs(z) + 0.5 / sigma) - normalShareBelow(-Math.abs(z) - 0.5 / sigma);

/** Levenberg-Marquardt with differences for derivatives; weights follow the model. Null where it ends nowhere. */
function descend(
  pixels: GlowPixels,
  telling: readonly number[],
  noisePerDn: number,
  start: Shape,
): { shape: Shape; misfit: number } | null {
  const m = start.length;
  let shape = [...start];
  let damping = 1e-2;
  const weightOf = (i: number, value: number): number =>
    1 / (pixels.variance[i] + noisePerDn * Math.max(0, value) + (0.01 * value) ** 2);
  const misfitOf = (trial: Shape, weights: Float64Array): number => {
    let sum = 0;
    telling.forEach((i, k) => {
      sum += weights[k] * (pixels.signal[i] - brightness(trial, pixels.x[i], pixels.y[i])) ** 2;
    });
    return sum;
  };
  let misfit = Number.POSITIVE_INFINITY;
  for (let round = 0; round < ROUNDS; round++) {
    const values = telling.map((i) => brightness(shape, pixels.x[i], pixels.y[i]));
    const weights = Float64Array.from(telling, (i, k) => weightOf(i, values[k]));
    misfit = misfitOf(shape, weights);
    const normal = Array.from({ length: m }, () => new Float64Array(m + 1));
    const slopes = shape.map((_, a) => {
      const moved = [...shape];
      moved[a] += 1e-4;
      return telling.map((i, k) => (brightness(moved, pixels.x[i], pixels.y[i]) - values[k]) / 1e-4);
    });
    for (let a = 0; a < m; a++) {
      for (let b = 0; b < m; b++)
        telling.forEach((_, k) => {
          normal[a][b] += weights[k] * slopes[a][k] * slopes[b][k];
        });
      telling.forEach((i, k) => {
        normal[a][m] += weights[k] * slopes[a][k] * (pixels.signal[i] - values[k]);
      });
    }
    let moved = false;
    for (let tries = 0; tries < 8 && !moved; tries++) {
      const step = solve(normal.map((row, a) => Float64Array.from(row, (v, b) => (a === b ? v * (1 + damping) : v))));
      const trial = step ? shape.map((v, a) => v + Math.max(-1, Math.min(1, step[a]))) : null;
      if (trial && misfitOf(trial, weights) <= misfit) {
        const largest = Math.max(...trial.map((v, a) => Math.abs(v - shape[a])));
        shape = trial;
        damping = Math.max(1e-6, damping / 5);
        moved = true;
        if (largest < 1e-4) return { shape, misfit };
      } else damping *= 5;
    }
    if (!moved) break;
  }
  return Number.isFinite(misfit) && shape.every(Number.isFinite) ? { shape, misfit } : null;
}

/** Gauss's elimination with pivots on m rows of m + 1; null where singular. */
function solve(rows: Float64Array[]): Float64Array | null {
  const m = rows.length;
  for (let c = 0; c < m; c++) {
    let best = c;
    for (let r = c + 1; r < m; r++) if (Math.abs(rows[r][c]) > Math.abs(rows[best][c])) best = r;
    if (!(Math.abs(rows[best][c]) > 1e-300)) return null;
    [rows[c], rows[best]] = [rows[best], rows[c]];
    for (let r = 0; r < m; r++) {
      if (r === c) continue;
      const k = rows[r][c] / rows[c][c];
      for (let j = c; j <= m; j++) rows[r][j] -= k * rows[c][j];
    }
  }
  return Float64Array.from(rows, (row, r) => row[m] / row[r]);
}
