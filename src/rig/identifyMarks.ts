import { applyHomography, homographyFromPoints } from './homography.ts';

type Pair = readonly [number, number];

export interface Identified {
  readonly kind: 'identified';
  /** For every mark of the layout the index of the spot that is its image, or -1. */
  readonly spotOfMark: readonly number[];
  /** Root mean square distance to the layout carried over by the best homography (similarity for fewer than five). */
  readonly rmsPx: number;
}

export type Identification =
  | Identified
  | {
      readonly kind: 'refused';
      readonly because: 'too few spots' | 'no arrangement fits the layout' | 'two arrangements fit alike';
    };

/** What is known of the view: how a person holds a board. */
export interface ExpectedView {
  /** Pixels to the metre at the stated range. */
  readonly pxPerM: number;
  /** By how much that may be wrong, as a factor, e.g. 1.4. */
  readonly scaleFactor: number;
  /** How far the board may be turned in the image plane. */
  readonly rollRad: number;
}

/**
 * Which spot is which mark, from the board's layout: every pair of spots is tried as every pair of marks, the layout laid
 * over by the similarity that this makes, then refined by an affine map and a homography; the arrangement with the most
 * marks wins, of equals the one that fits best. Clutter and missing marks do no harm as long as the layout has no
 * symmetry that the expected view allows.
 * @param layoutM marks in the target's plane, x right, y down, metres
 */
export function identifyMarks(layoutM: readonly Pair[], spotsPx: readonly Pair[], view: ExpectedView): Identification {
  const marks = layoutM.length;
  if (marks === 1)
    return spotsPx.length === 1
      ? { kind: 'identified', spotOfMark: [0], rmsPx: 0 }
      : { kind: 'refused', because: spotsPx.length === 0 ? 'too few spots' : 'two arrangements fit alike' };
  const least = Math.min(marks, 4);
  if (spotsPx.length < Math.min(least, marks)) return { kind: 'refused', because: 'too few spots' };
  const size = Math.max(...layoutM.flatMap((a) => layoutM.map((b) => Math.hypot(a[0] - b[0], a[1] - b[1]))));
  const tight = Math.max(1.5, 0.02 * size * view.pxPerM);
  const tried = new Map<string, { assignment: number[]; count: number; rmsPx: number }>();
  for (const [i, j] of longPairs(layoutM)) {
    const mx = layoutM[j][0] - layoutM[i][0];
    const my = layoutM[j][1] - layoutM[i][1];
    const m2 = mx * mx + my * my;
    for (let a = 0; a < spotsPx.length; a++)
      for (let b = 0; b < spotsPx.length; b++) {
        if (a === b) continue;
        const sx = spotsPx[b][0] - spotsPx[a][0];
        const sy = spotsPx[b][1] - spotsPx[a][1];
        // Complex ratio spot / mark: scale and turn at once.
        const c = (sx * mx + sy * my) / m2;
        const s = (sy * mx - sx * my) / m2;
        const scale = Math.hypot(c, s) / view.pxPerM;
        if (scale > view.scaleFactor || scale * view.scaleFactor < 1 || Math.abs(Math.atan2(s, c)) > view.rollRad)
          continue;
        const place = ([x, y]: Pair): Pair => {
          const dx = x - layoutM[i][0];
          const dy = y - layoutM[i][1];
          return [spotsPx[a][0] + c * dx - s * dy, spotsPx[a][1] + s * dx + c * dy];
        };
        // A board tilted by 30 degrees is foreshortened by an eighth of its size against any similarity.
        const rough = assign(layoutM.map(place), spotsPx, 0.15 * size * view.pxPerM);
        if (rough.filter((k) => k >= 0).length < least) continue;
        const key = rough.join();
        if (tried.has(key)) continue;
        tried.set(key, refine(layoutM, spotsPx, rough, tight));
      }
  }
  const ranked = [...tried.values()]
    .filter((t) => t.count >= least)
    .sort((x, y) => y.count - x.count || x.rmsPx - y.rmsPx);
  const best = ranked[0];
  if (!best) return { kind: 'refused', because: 'no arrangement fits the layout' };
  const rival = ranked.find((t) => t.count === best.count && t.assignment.join() !== best.assignment.join());
  // Four points always fit a homography: with as few, the rival's fit says nothing, and the affine residual decides.
  if (rival && rival.rmsPx < 2 * best.rmsPx + 0.3) return { kind: 'refused', because: 'two arrangements fit alike' };
  return { kind: 'identified', spotOfMark: best.assignment, rmsPx: best.rmsPx };
}

/** Pairs of marks worth starting from: the longest ones, as the map of a long pair carries farthest. */
function longPairs(layoutM: readonly Pair[]): [number, number][] {
  const pairs: [number, number][] = [];
  for (let i = 0; i < layoutM.length; i++) for (let j = i + 1; j < layoutM.length; j++) pairs.push([i, j]);
  const length = ([i, j]: [number, number]): number =>
    Math.hypot(layoutM[i][0] - layoutM[j][0], layoutM[i][1] - layoutM[j][1]);
  return pairs.sort((a, b) => length(b) - length(a)).slice(0, 12);
}

/** The nearest spot to each expected place within `reachPx`, each spot once. */
function assign(places: readonly Pair[], spotsPx: readonly Pair[], reachPx: number): number[] {
  const candidates: [distance: number, mark: number, spot: number][] = [];
  places.forEach(([x, y], mark) => {
    spotsPx.forEach(([u, v], spot) => {
      const d = Math.hypot(u - x, v - y);
      if (d <= reachPx) candidates.push([d, mark, spot]);
    });
  });
  candidates.sort((a, b) => a[0] - b[0]);
  const out = places.map(() => -1);
  const taken = new Set<number>();
  for (const [, mark, spot] of candidates) {
    if (out[mark] >= 0 || taken.has(spot)) continue;
    out[mark] = spot;
    taken.add(spot);
  }
  return out;
}

function refine(
  layoutM: readonly Pair[],
  spotsPx: readonly Pair[],
  rough: number[],
  tightPx: number,
): { assignment: number[]; count: number; rmsPx: number } {
  let assignment = rough;
  let rmsPx = Number.POSITIVE_INFINITY;
  for (let round = 0; round < 3; round++) {
    const known = assignment.flatMap((spot, mark) => (spot >= 0 ? [mark] : []));
    const place = mapOf(
      known.map((m) => layoutM[m]),
      known.map((m) => spotsPx[assignment[m]]),
      round > 0,
    );
    if (!place) return { assignment, count: 0, rmsPx };
    assignment = assign(layoutM.map(place), spotsPx, round === 0 ? 3 * tightPx : tightPx);
    const kept = assignment.flatMap((spot, mark) => (spot >= 0 ? [mark] : []));
    rmsPx = Math.sqrt(
      kept.reduce((sum, m) => {
        const [x, y] = place(layoutM[m]);
        const [u, v] = spotsPx[assignment[m]];
        return sum + (u - x) ** 2 + (v - y) ** 2;
      }, 0) / Math.max(1, kept.length),
    );
  }
  return { assignment, count: assignment.filter((s) => s >= 0).length, rmsPx };
}

/** Least-squares affine map, or a homography from five points on; a similarity for two points. */
function mapOf(from: readonly Pair[], to: readonly Pair[], projective: boolean): ((p: Pair) => Pair) | null {
  if (from.length < 2) return null;
  if (projective && from.length >= 5) {
    const h = homographyFromPoints(from, to);
    if (h) return (p) => applyHomography(h, p);
  }
  const n = from.length;
  const mx = from.reduce((s, p) => s + p[0], 0) / n;
  const my = from.reduce((s, p) => s + p[1], 0) / n;
  const mu = to.reduce((s, p) => s + p[0], 0) / n;
  const mv = to.reduce((s, p) => s + p[1], 0) / n;
  let xx = 0;
  let xy = 0;
  let yy = 0;
  let xu = 0;
  let yu = 0;
  let xv = 0;
  let yv = 0;
  for (let i = 0; i < n; i++) {
    const x = from[i][0] - mx;
    const y = from[i][1] - my;
    const u = to[i][0] - mu;
    const v = to[i][1] - mv;
    xx += x * x;
    xy += x * y;
    yy += y * y;
    xu += x * u;
    yu += y * u;
    xv += x * v;
    yv += y * v;
  }
  const det = xx * yy - xy * xy;
  if (n === 2 || det < 1e-6 * (xx + yy) ** 2) {
    const c = (xu + yv) / (xx + yy);
    const s = (xv - yu) / (xx + yy);
    return ([x, y]) => [mu + c * (x - mx) - s * (y - my), mv + s * (x - mx) + c * (y - my)];
  }
  const a = (yy * xu - xy * yu) / det;
  const b = (xx * yu - xy * xu) / det;
  const c = (yy * xv - xy * yv) / det;
  const d = (xx * yv - xy * xv) / det;
  return ([x, y]) => [mu + a * (x - mx) + b * (y - my), mv + c * (x - mx) + d * (y - my)];
}
