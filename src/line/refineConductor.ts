import { solveLeastSquares } from '../maths/leastSquares.ts';
import { cauchy } from '../maths/robustLoss.ts';
import { catenaryFromSag, heightAt } from './catenary.ts';

/** A measured point in the upright plane of a span: along from the first end, beside it (right positive), and above the first end. */
export interface SpanPoint {
  readonly xM: number;
  readonly besideM: number;
  readonly zM: number;
}

export type WireRefinement =
  | {
      readonly kind: 'refined';
      /** At the first and at the second end: to the right, and above the first end as given. */
      readonly beside: readonly [number, number];
      readonly up: readonly [number, number];
      readonly sagM: number;
      /** Of sag and of the ends, 1 sigma, from the scatter of the points and how they are spread. */
      readonly sagSigmaM: number;
      readonly endSigmaM: number;
      readonly points: number;
      readonly rmsM: number;
      /** How far the middle of the wire was from where it was given. */
      readonly movedM: number;
    }
  | { readonly kind: 'not refined'; readonly because: string };

/** Fewer points, or points on less of the span, say too little of where the rest hangs. */
const LEAST_POINTS = 12;
const LEAST_SHARE = 0.5;
const BINS = 20;
/** Two wires as near as this are told apart by how many points each gathers. */
const WIRE_WITHIN_M = 0.25;
const SEARCH_STEP_M = 0.12;
const RIVAL_APART_M = 0.8;
const RIVAL_SHARE = 0.6;
const WORST_RMS_M = 0.25;
/** Points of one scan line share their errors: how much, the residuals of neighbours tell, in pieces of the span of this length. */
const PIECE_M = 10;

/**
 * The wire through a cloud near its nominal place: first the shift beside and upright at which most points lie on the nominal
 * curve, then a robust least-squares catenary with both ends free. Of a bundle the middle of its wires is found, as each
 * gives points alike. Refused, with the reason, where too few points lie on too little of the span, or two wires explain them alike.
 * @param reachM how far the wire may be from its nominal place
 */
export function refineConductor(
  points: readonly SpanPoint[],
  nominal: { readonly spanM: number; readonly riseM: number; readonly sagM: number; readonly bundleRadiusM: number },
  reachM: number,
): WireRefinement {
  const { spanM, riseM, sagM, bundleRadiusM } = nominal;
  const refused = (because: string): WireRefinement => ({ kind: 'not refined', because });
  const curve = catenaryFromSag(spanM, riseM, sagM);
  const near = points
    .filter((p) => p.xM > 0.5 && p.xM < spanM - 0.5)
    .map((p) => ({ ...p, offM: p.zM - heightAt(curve, p.xM) }))
    .filter((p) => Math.hypot(p.besideM, p.offM) < reachM);
  if (near.length < LEAST_POINTS) return refused(`${near.length} points within ${reachM} m of it`);
  const within = WIRE_WITHIN_M + bundleRadiusM;
  const start = fullestShift(near, reachM, within);
  if (start.rival >= RIVAL_SHARE * start.count)
    return refused(`two wires ${start.rivalApartM.toFixed(1)} m apart explain the points alike`);
  let on = near.filter((p) => Math.hypot(p.besideM - start.besideM, p.offM - start.upM) < 3 * within);
  let shape = [start.besideM, start.besideM, start.upM, riseM + start.upM, Math.log(Math.max(0.05, sagM))];
  let fit: { covariance: (i: number, j: number) => number; rmsM: number } | null = null;
  // Wires sag otherwise than drawn: the points are chosen anew about the wire that was found.
  for (let round = 0; round < 4; round++) {
    if (on.length < LEAST_POINTS) return refused(`${on.length} points on one wire`);
    const covered = new Set(on.map((p) => Math.floor((BINS * p.xM) / spanM))).size / BINS;
    if (covered < LEAST_SHARE) return refused(`points on ${Math.round(100 * covered)} % of the span only`);
    const sigma = Math.max(0.01, bundleRadiusM / 2, fit?.rmsM ?? 0.1);
    const outcome = solveLeastSquares({
      start: shape,
      residualCount: 2 * on.length,
      groupSize: 2,
      loss: cauchy(2.5),
      evaluateInto: (residuals, jacobian, [b0, b1, z0, z1, logSag]) => {
        if (!(logSag < Math.log(spanM / 2)) || !Number.isFinite(logSag)) return false;
        const wire = catenaryFromSag(spanM, z1 - z0, Math.exp(logSag));
        const deeper = catenaryFromSag(spanM, z1 - z0, Math.exp(logSag + 1e-4));
        on.forEach((p, i) => {
          const t = p.xM / spanM;
          const z = heightAt(wire, p.xM);
          residuals[2 * i] = ((1 - t) * b0 + t * b1 - p.besideM) / sigma;
          residuals[2 * i + 1] = (z0 + z - p.zM) / sigma;
          if (!jacobian) return;
          const row = [1 - t, t, 0, 0, 0, 0, 0, 1 - t, t, (heightAt(deeper, p.xM) - z) / 1e-4];
          for (let k = 0; k < 10; k++) jacobian[10 * i + k] = row[k] / sigma;
        });
        return true;
      },
    });
    if (outcome.kind === 'refused')
      return refused(
        outcome.because === 'singular' ? 'points that do not determine a wire' : 'no hanging wire through its points',
      );
    shape = [...outcome.parameters];
    const [b0, b1, z0, z1, logSag] = shape;
    const wire = catenaryFromSag(spanM, z1 - z0, Math.exp(logSag));
    const missM = (p: SpanPoint): number =>
      Math.hypot(((spanM - p.xM) * b0 + p.xM * b1) / spanM - p.besideM, z0 + heightAt(wire, p.xM) - p.zM);
    const misses = on.map(missM).sort((x, y) => x - y);
    // Median of a two-dimensional normal error is 1.1774 sigma.
    const robust = misses[misses.length >> 1] / 1.1774;
    const { variance, sharing } = errorsOf(on, spanM, (p) => [
      ((spanM - p.xM) * b0 + p.xM * b1) / spanM - p.besideM,
      z0 + heightAt(wire, p.xM) - p.zM,
    ]);
    fit = {
      covariance: (i, j) => (outcome.covariance.get(i, j) * variance * sharing) / sigma ** 2,
      rmsM: Math.max(0.005, robust),
    };
    const limit = Math.max(0.1, 4 * robust);
    on = near.filter((p) => missM(p) < limit);
  }
  if (!fit || fit.rmsM > WORST_RMS_M) return refused(`points ${(fit?.rmsM ?? 0).toFixed(2)} m off the best wire`);
  const [b0, b1, z0, z1, logSag] = shape;
  const refinedSag = Math.exp(logSag);
  const { covariance } = fit;
  const end = Math.max(covariance(0, 0), covariance(1, 1), covariance(2, 2), covariance(3, 3));
  return {
    kind: 'refined',
    beside: [b0, b1],
    up: [z0, z1],
    sagM: refinedSag,
    sagSigmaM: Math.sqrt(covariance(4, 4)) * refinedSag,
    endSigmaM: Math.sqrt(end),
    points: on.length,
    rmsM: fit.rmsM,
    movedM: Math.hypot((b0 + b1) / 2, (z0 + z1 - riseM) / 2 - (refinedSag - sagM)),
  };
}

/**
 * The variance of one point along one axis, and by how much the means of neighbours scatter more than those of independent points
 * would: 1 where they are, the number of points that share one error where they do.
 */
function errorsOf(
  on: readonly SpanPoint[],
  spanM: number,
  missOf: (p: SpanPoint) => readonly [number, number],
): { variance: number; sharing: number } {
  const pieces = Math.max(4, Math.round(spanM / PIECE_M));
  const sums = Array.from({ length: pieces }, () => [0, 0, 0]);
  let square = 0;
  for (const p of on) {
    const [beside, up] = missOf(p);
    square += beside * beside + up * up;
    const sum = sums[Math.min(pieces - 1, Math.floor((pieces * p.xM) / spanM))];
    sum[0]++;
    sum[1] += beside;
    sum[2] += up;
  }
  const variance = Math.max(1e-6, square / Math.max(1, 2 * on.length - 5));
  const used = sums.filter(([n]) => n > 0);
  const scatter = used.reduce((total, [n, beside, up]) => total + (beside * beside + up * up) / n, 0);
  return { variance, sharing: Math.max(1, scatter / (variance * Math.max(1, 2 * used.length - 5))) };
}

interface Fullest {
  readonly besideM: number;
  readonly upM: number;
  readonly count: number;
  readonly rival: number;
  readonly rivalApartM: number;
}

/** The shift at which most points lie within `withinM` of the curve, and the best of those that are another wire. */
function fullestShift(
  near: readonly { readonly besideM: number; readonly offM: number }[],
  reachM: number,
  withinM: number,
): Fullest {
  const steps = Math.ceil(reachM / SEARCH_STEP_M);
  const width = 2 * steps + 1;
  const counts = new Int32Array(width * width);
  const reach = Math.ceil(withinM / SEARCH_STEP_M);
  for (const { besideM, offM } of near) {
    const bi = Math.round(besideM / SEARCH_STEP_M);
    const ui = Math.round(offM / SEARCH_STEP_M);
    for (let db = -reach; db <= reach; db++)
      for (let du = -reach; du <= reach; du++) {
        const [i, j] = [bi + db + steps, ui + du + steps];
        if (i < 0 || j < 0 || i >= width || j >= width) continue;
        if (Math.hypot((i - steps) * SEARCH_STEP_M - besideM, (j - steps) * SEARCH_STEP_M - offM) <= withinM)
          counts[i * width + j]++;
      }
  }
  const at = (k: number): [number, number] => [
    (Math.floor(k / width) - steps) * SEARCH_STEP_M,
    ((k % width) - steps) * SEARCH_STEP_M,
  ];
  let best = 0;
  counts.forEach((count, k) => {
    // Of equals the one nearer to where the wire was drawn.
    if (count > counts[best] || (count === counts[best] && Math.hypot(...at(k)) < Math.hypot(...at(best)))) best = k;
  });
  const [besideM, upM] = at(best);
  let rival = 0;
  let rivalApartM = 0;
  counts.forEach((count, k) => {
    const [b, u] = at(k);
    const apart = Math.hypot(b - besideM, u - upM);
    if (apart < Math.max(RIVAL_APART_M, 2.5 * withinM) || count <= rival) return;
    rival = count;
    rivalApartM = apart;
  });
  return { besideM, upM, count: counts[best], rival, rivalApartM };
}
