import { EigenvalueDecomposition, Matrix } from 'ml-matrix';
import { solveLeastSquares } from '../maths/leastSquares.ts';
import { invert, type Mat3, multiply } from '../maths/mat3.ts';

type Pair = readonly [number, number];

/** Where a homography takes a point; NaN on the line that it takes to infinity. */
export function applyHomography(h: Mat3, [x, y]: Pair): [number, number] {
  const w = h[6] * x + h[7] * y + h[8];
  return w === 0 ? [Number.NaN, Number.NaN] : [(h[0] * x + h[1] * y + h[2]) / w, (h[3] * x + h[4] * y + h[5]) / w];
}

/**
 * The homography that takes `from` to `to`, by the normalised direct linear transformation and, from five points on,
 * a refinement of the distances in `to`. At least four points, no three of them on a line; null where that fails.
 * The result has h[8] = 1. Source: Hartley & Zisserman, Multiple View Geometry, 2nd ed., algorithms 4.2 and 4.3 (from memory).
 */
export function homographyFromPoints(from: readonly Pair[], to: readonly Pair[]): Mat3 | null {
  const h = directHomography(from, to);
  const a = normalisation(from);
  const b = normalisation(to);
  return h && a && b && refined(h, from, to, a, b);
}

/** The same by the direct linear transformation alone: for a start, at a fifth of the time. */
export function directHomography(from: readonly Pair[], to: readonly Pair[]): Mat3 | null {
  if (from.length < 4 || from.length !== to.length) return null;
  const a = normalisation(from);
  const b = normalisation(to);
  if (!a || !b) return null;
  const sums = new Float64Array(81);
  const row = new Float64Array(9);
  const addRow = (): void => {
    for (let r = 0; r < 9; r++) {
      if (row[r] === 0) continue;
      for (let c = r; c < 9; c++) sums[9 * r + c] += row[r] * row[c];
    }
  };
  for (let i = 0; i < from.length; i++) {
    const [x, y] = applyHomography(a, from[i]);
    const [u, v] = applyHomography(b, to[i]);
    row.fill(0);
    row[3] = -x;
    row[4] = -y;
    row[5] = -1;
    row[6] = v * x;
    row[7] = v * y;
    row[8] = v;
    addRow();
    row.fill(0);
    row[0] = x;
    row[1] = y;
    row[2] = 1;
    row[6] = -u * x;
    row[7] = -u * y;
    row[8] = -u;
    addRow();
  }
  const normal = new Matrix(9, 9);
  for (let r = 0; r < 9; r++) for (let c = 0; c < 9; c++) normal.set(r, c, sums[9 * Math.min(r, c) + Math.max(r, c)]);
  const { realEigenvalues, eigenvectorMatrix } = new EigenvalueDecomposition(normal, { assumeSymmetric: true });
  // Ascending eigenvalues: a second one near zero means that the points do not fix a homography.
  const order = realEigenvalues.map((_, i) => i).sort((i, j) => realEigenvalues[i] - realEigenvalues[j]);
  if (!(realEigenvalues[order[1]] > 1e-9 * realEigenvalues[order[8]])) return null;
  const core = Array.from({ length: 9 }, (_, i) => eigenvectorMatrix.get(i, order[0])) as unknown as Mat3;
  const back = invert(b);
  if (!back) return null;
  const h = multiply(multiply(back, core), a);
  if (!(Math.abs(h[8]) > 1e-12 * Math.hypot(...h))) return null;
  return h.map((x) => x / h[8]) as unknown as Mat3;
}

function normalisation(points: readonly Pair[]): Mat3 | null {
  const n = points.length;
  const cx = points.reduce((s, p) => s + p[0], 0) / n;
  const cy = points.reduce((s, p) => s + p[1], 0) / n;
  const mean = points.reduce((s, p) => s + Math.hypot(p[0] - cx, p[1] - cy), 0) / n;
  if (!(mean > 0)) return null;
  const k = Math.SQRT2 / mean;
  return [k, 0, -k * cx, 0, k, -k * cy, 0, 0, 1];
}

/** The normal matrix squares the condition of the direct solution: Gauss-Newton on the distances brings the digits back. */
function refined(h: Mat3, from: readonly Pair[], to: readonly Pair[], a: Mat3, b: Mat3): Mat3 | null {
  const aInverse = invert(a);
  const bInverse = invert(b);
  if (!aInverse || !bInverse) return null;
  const source = from.map((p) => applyHomography(a, p));
  const goal = to.map((p) => applyHomography(b, p));
  const start = multiply(multiply(b, h), aInverse);
  const outcome = solveLeastSquares({
    start: start.slice(0, 8).map((x) => x / start[8]),
    residualCount: 2 * from.length,
    maxIterations: 30,
    evaluateInto(residuals, jacobian, p) {
      jacobian?.fill(0);
      for (let i = 0; i < source.length; i++) {
        const [x, y] = source[i];
        const w = p[6] * x + p[7] * y + 1;
        if (!(w > 0)) return false;
        const u = (p[0] * x + p[1] * y + p[2]) / w;
        const v = (p[3] * x + p[4] * y + p[5]) / w;
        residuals[2 * i] = goal[i][0] - u;
        residuals[2 * i + 1] = goal[i][1] - v;
        if (!jacobian) continue;
        const row = 16 * i;
        jacobian.set([-x / w, -y / w, -1 / w, 0, 0, 0, (u * x) / w, (u * y) / w], row);
        jacobian.set([0, 0, 0, -x / w, -y / w, -1 / w, (v * x) / w, (v * y) / w], row + 8);
      }
      return true;
    },
  });
  if (outcome.kind === 'refused') return from.length === 4 ? h : null;
  const core = [...outcome.parameters, 1] as unknown as Mat3;
  const result = multiply(multiply(bInverse, core), a);
  return result.map((x) => x / result[8]) as unknown as Mat3;
}
