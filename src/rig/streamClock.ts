import { Matrix } from 'ml-matrix';
import { invertSymmetric } from '../maths/leastSquares.ts';
import { huber } from '../maths/robustLoss.ts';
import type { BenchFrame, SeenMark } from './BenchObservations.ts';
import { type NamedMarks, pairStreams, type TimedMarks } from './pairByTime.ts';

/** How the clock of the colour stream stands to that of the ultraviolet one: t_uv = t + offset + drift · (t - about). */
export interface StreamClock {
  readonly offsetMs: number;
  readonly offsetSigmaMs: number;
  readonly driftPpm: number;
  readonly driftSigmaPpm: number;
  /** Middle of the run; offset and drift are nearly independent there. */
  readonly aboutNs: number;
  /** How fast the target moved in the colour image, root mean square: what makes the clock visible, px/s. */
  readonly speedPxPerS: number;
  readonly samples: number;
}

export type ClockOutcome =
  | ({ readonly kind: 'estimated' } & StreamClock)
  | { readonly kind: 'refused'; readonly because: 'the target hardly moved' | 'too few marks in motion' };

/** One mark in motion: what the mapping leaves of it, and how it moved. */
export interface ClockSample {
  /** Number of the frame: errors within one frame may hang together. */
  readonly frame: number;
  readonly tNs: number;
  /** Colour pixel seen minus predicted, px. */
  readonly residualPx: readonly [number, number];
  /** Of the predicted colour pixel, px/s. */
  readonly ratePxPerS: readonly [number, number];
  readonly sigmaPx: number;
  /** Terms by which the prediction may be smoothly wrong, for each axis alike. */
  readonly nuisance: readonly number[];
}

const LOSS = huber(2.5);

/**
 * Offset and drift from the residuals of a mapping along the motion: a residual is speed times lateness. What a mapping fitted
 * at a wrong offset has taken into itself is given back by the nuisance terms. Standard deviations are those of a
 * clustered sandwich over frames, so that errors shared by the marks of a frame are counted as shared.
 * Source: Liang & Zeger, Biometrika 73 (1986) 13 (from memory).
 */
export function estimateClock(samples: readonly ClockSample[]): ClockOutcome {
  const terms = samples[0]?.nuisance.length ?? 0;
  const n = 2 + 2 * terms;
  if (samples.length < Math.max(30, n)) return { kind: 'refused', because: 'too few marks in motion' };
  let fromNs = Number.POSITIVE_INFINITY;
  let toNs = Number.NEGATIVE_INFINITY;
  let squares = 0;
  let weightSum = 0;
  for (const { tNs, ratePxPerS: r, sigmaPx } of samples) {
    fromNs = Math.min(fromNs, tNs);
    toNs = Math.max(toNs, tNs);
    squares += r[0] ** 2 + r[1] ** 2;
    weightSum += sigmaPx ** 2;
  }
  const aboutNs = (fromNs + toNs) / 2;
  const speedPxPerS = Math.sqrt(squares / samples.length);
  // A tenth of the noise in a second: whatever the offset, it shows in nothing.
  if (speedPxPerS < 0.1 * Math.sqrt(weightSum / samples.length))
    return { kind: 'refused', because: 'the target hardly moved' };

  const row = new Float64Array(n);
  const fill = (s: ClockSample, axis: 0 | 1): void => {
    row.fill(0);
    row[0] = s.ratePxPerS[axis] * 1e-3;
    row[1] = s.ratePxPerS[axis] * (s.tNs - aboutNs) * 1e-15;
    for (let k = 0; k < terms; k++) row[2 + axis * terms + k] = s.nuisance[k];
  };
  let p: Float64Array = new Float64Array(n);
  let inverse: Matrix | null = null;
  const weights = new Float64Array(samples.length).fill(1);
  for (let round = 0; round < 12; round++) {
    const h = new Matrix(n, n);
    const g = new Float64Array(n);
    samples.forEach((s, i) => {
      const w = weights[i] / s.sigmaPx ** 2;
      for (const axis of [0, 1] as const) {
        fill(s, axis);
        for (let a = 0; a < n; a++) {
          if (row[a] === 0) continue;
          g[a] += w * row[a] * s.residualPx[axis];
          for (let b = 0; b < n; b++) h.set(a, b, h.get(a, b) + w * row[a] * row[b]);
        }
      }
    });
    // One range alone leaves two nuisance terms alike; a breath of weight settles which of them, and changes nothing else.
    for (let a = 2; a < n; a++) h.set(a, a, h.get(a, a) * (1 + 1e-9) + 1e-9);
    inverse = invertSymmetric(h);
    if (!inverse) return { kind: 'refused', because: 'the target hardly moved' };
    const solved = inverse;
    const next = Float64Array.from({ length: n }, (_, a) => g.reduce((sum, x, b) => sum + solved.get(a, b) * x, 0));
    let moved = 0;
    for (let a = 0; a < n; a++) moved = Math.max(moved, Math.abs(next[a] - p[a]) / Math.sqrt(solved.get(a, a)));
    p = next;
    samples.forEach((s, i) => {
      const squared = ([0, 1] as const).reduce<number>((sum, axis) => {
        fill(s, axis);
        return sum + ((s.residualPx[axis] - row.reduce((t, x, a) => t + x * p[a], 0)) / s.sigmaPx) ** 2;
      }, 0);
      weights[i] = LOSS.weight(squared);
    });
    if (moved < 1e-3) break;
  }
  const [offsetSigmaMs, driftSigmaPpm] = sandwich(samples, weights, inverse!, p, fill, row);
  return {
    kind: 'estimated',
    offsetMs: p[0],
    offsetSigmaMs,
    driftPpm: p[1],
    driftSigmaPpm,
    aboutNs,
    speedPxPerS,
    samples: samples.length,
  };
}

function sandwich(
  samples: readonly ClockSample[],
  weights: Float64Array,
  inverse: Matrix,
  p: Float64Array,
  fill: (s: ClockSample, axis: 0 | 1) => void,
  row: Float64Array,
): [number, number] {
  const n = p.length;
  const byFrame = new Map<number, Float64Array>();
  samples.forEach((s, i) => {
    let sum = byFrame.get(s.frame);
    if (!sum) {
      sum = new Float64Array(n);
      byFrame.set(s.frame, sum);
    }
    const w = weights[i] / s.sigmaPx ** 2;
    for (const axis of [0, 1] as const) {
      fill(s, axis);
      const r = s.residualPx[axis] - row.reduce((t, x, a) => t + x * p[a], 0);
      for (let a = 0; a < n; a++) sum[a] += w * row[a] * r;
    }
  });
  const clusters = byFrame.size;
  const variance = [0, 0];
  for (const sum of byFrame.values())
    for (const which of [0, 1]) {
      let x = 0;
      for (let b = 0; b < n; b++) x += inverse.get(which, b) * sum[b];
      variance[which] += x * x;
    }
  // Frames less the parameters that follow them, as for any variance of residuals.
  const k = clusters / Math.max(1, clusters - n / 2);
  return [Math.sqrt(k * variance[0]), Math.sqrt(k * variance[1])];
}

/** Coarse search this far to either side, in frames of the ultraviolet stream. */
const SEARCH_FRAMES = 25;
/** Frames looked at in the coarse search: as many marks as a polynomial of each sweep needs, and a median of hundreds. */
const SEARCHED_FRAMES = 120;

/** An offset that moves the target by less than this does not upset a first calibration. */
const COARSE_PX = 0.5;

/**
 * A first offset without any calibration: the tracks of one stream slid along those of the other, each sweep laid over by
 * a polynomial of degree 2, the best fit refined from the residuals' own speed. Good to a millisecond or so, which is what the
 * calibration needs to start from; null where the streams fit as they are, or nowhere better.
 */
export function searchClockOffset(
  lamps: readonly TimedMarks[],
  discs: readonly NamedMarks[],
  uvIntervalNs: number,
): { readonly offsetMs: number; readonly significant: boolean } | null {
  const step = Math.max(1, Math.floor(discs.length / SEARCHED_FRAMES));
  const some = discs.filter((_, i) => i % step === 0);
  const most = planeSamples(pairStreams(lamps, some, uvIntervalNs, null).frames).length;
  const misfit = (offsetMs: number): number => {
    const { frames } = pairStreams(lamps, some, uvIntervalNs, { offsetMs, driftPpm: 0, aboutNs: 0 });
    const samples = planeSamples(frames);
    // Fewer than half of the pairs is an overlap too small to compare.
    if (samples.length < 0.5 * most) return Number.POSITIVE_INFINITY;
    const sizes = samples.map((s) => Math.hypot(...s.residualPx)).sort((a, b) => a - b);
    return sizes[sizes.length >> 1];
  };
  const stepMs = (0.5 * uvIntervalNs) / 1e6;
  const here = misfit(0);
  let best = 0;
  let bestMisfit = here;
  for (let i = -2 * SEARCH_FRAMES; i <= 2 * SEARCH_FRAMES; i++) {
    const value = misfit(i * stepMs);
    if (value >= bestMisfit) continue;
    best = i * stepMs;
    bestMisfit = value;
  }
  let last: StreamClock | null = null;
  for (let round = 0; round < 4; round++) {
    const { frames } = pairStreams(lamps, discs, uvIntervalNs, { offsetMs: best, driftPpm: 0, aboutNs: 0 });
    const outcome = estimateClock(planeSamples(frames).map((s) => ({ ...s, nuisance: [1] })));
    if (outcome.kind === 'refused' || Math.abs(outcome.offsetMs) > stepMs) break;
    best += outcome.offsetMs;
    last = outcome;
    if (Math.abs(outcome.offsetMs) < outcome.offsetSigmaMs) break;
  }
  if (!last) return { offsetMs: best, significant: misfit(best) < 0.8 * here };
  // Less than this the calibration finds by itself, and better.
  const visible = Math.abs(best) * 1e-3 * last.speedPxPerS > COARSE_PX;
  return visible ? { offsetMs: best, significant: Math.abs(best) > 4 * last.offsetSigmaMs } : null;
}

/** A sweep of fewer marks carries no polynomial. */
const LEAST_ROWS = 20;

/**
 * Residuals of each sweep against its own polynomial of degree 2, with the speed that its slope makes of the lamp's. The
 * polynomial has a constant for every mark: a disc is not where its lamp is, by tens of pixels.
 */
function planeSamples(frames: readonly BenchFrame[]): ClockSample[] {
  const rows = frames.flatMap((f, frame) =>
    f.marks.flatMap(({ mark, uv, colour, uvRatePxPerS: rate }) =>
      uv && colour && rate ? [{ frame, sweep: f.sweep, tNs: f.tNs, mark, uv, colour, rate }] : [],
    ),
  );
  return [...new Set(frames.map((f) => f.sweep))].flatMap((sweep) => {
    const own = rows.filter((r) => r.sweep === sweep);
    return own.length < LEAST_ROWS ? [] : sweepSamples(own);
  });
}

interface PlaneRow {
  readonly frame: number;
  readonly tNs: number;
  readonly mark: number;
  readonly uv: SeenMark;
  readonly colour: SeenMark;
  readonly rate: readonly [number, number];
}

function sweepSamples(rows: readonly PlaneRow[]): ClockSample[] {
  const TERMS = 5;
  const middle = [mean(rows.map((r) => r.uv.u)), mean(rows.map((r) => r.uv.v))];
  const size = Math.max(1, Math.sqrt(mean(rows.map((r) => (r.uv.u - middle[0]) ** 2 + (r.uv.v - middle[1]) ** 2))));
  const places = rows.map((r) => [(r.uv.u - middle[0]) / size, (r.uv.v - middle[1]) / size] as const);
  // Five terms and the two colour coordinates, each less its mean over the rows of the same mark.
  const columns = places.map(([x, y], i) => [x, y, x * x, x * y, y * y, rows[i].colour.u, rows[i].colour.v]);
  const centred = columns.map((c) => [...c]);
  for (const mark of new Set(rows.map((r) => r.mark))) {
    const own = rows.flatMap((r, i) => (r.mark === mark ? [i] : []));
    for (let k = 0; k < TERMS + 2; k++) {
      const average = mean(own.map((i) => columns[i][k]));
      for (const i of own) centred[i][k] -= average;
    }
  }
  const normal = new Matrix(TERMS, TERMS);
  for (const c of centred)
    for (let a = 0; a < TERMS; a++) for (let b = 0; b < TERMS; b++) normal.set(a, b, normal.get(a, b) + c[a] * c[b]);
  const inverse = invertSymmetric(normal);
  if (!inverse) return [];
  const fitted = (values: readonly number[]): number[] => {
    const right = Array.from({ length: TERMS }, (_, a) => centred.reduce((sum, c, i) => sum + c[a] * values[i], 0));
    return right.map((_, a) => right.reduce((sum, x, b) => sum + inverse.get(a, b) * x, 0));
  };
  const left = (values: readonly number[]): number[] => {
    const k = fitted(values);
    return values.map((value, i) => k.reduce((rest, kj, j) => rest - kj * centred[i][j], value));
  };
  const u = centred.map((c) => c[TERMS]);
  const v = centred.map((c) => c[TERMS + 1]);
  const [cu, cv] = [fitted(u), fitted(v)];
  const speed = (k: readonly number[]): number[] =>
    rows.map(({ rate }, i) => {
      const [x, y] = places[i];
      return ((k[0] + 2 * k[2] * x + k[3] * y) * rate[0] + (k[1] + k[3] * x + 2 * k[4] * y) * rate[1]) / size;
    });
  // On a short way speed is nearly a function of place: what the polynomial can take of it tells nothing of time.
  const [speedU, speedV] = [left(speed(cu)), left(speed(cv))];
  const [leftU, leftV] = [left(u), left(v)];
  return rows.map(
    (r, i): ClockSample => ({
      frame: r.frame,
      tNs: r.tNs,
      residualPx: [leftU[i], leftV[i]],
      ratePxPerS: [speedU[i], speedV[i]],
      sigmaPx: 1,
      nuisance: [],
    }),
  );
}

const mean = (x: readonly number[]): number => x.reduce((a, b) => a + b, 0) / x.length;
