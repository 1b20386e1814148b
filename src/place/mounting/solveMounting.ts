import type { Matrix } from 'ml-matrix';
import { type LeastSquaresOutcome, solveLeastSquares } from '../../maths/leastSquares.ts';
import { distance, type Vec3 } from '../../maths/vec3.ts';
import type { Mounting } from '../../rig/Mounting.ts';
import { passCorrelation } from '../passCorrelation.ts';
import { RAY_LOSS } from '../placeSighting.ts';
import { bundleRays, type RayBundle, residualsInto } from '../RayBundle.ts';
import { PASS_COUNT, SYSTEMATIC_COUNT } from '../SystematicErrors.ts';
import { systematicRoot } from '../systematicPrior.ts';
import { systematicSensitivity } from '../systematicSensitivity.ts';
import {
  correctedMounting,
  leftJacobian,
  MOUNTING_COUNT,
  statedCovariance,
  whiteningRows,
} from './MountingParameters.ts';
import type { LightPoint, PointView } from './PointView.ts';
import { raysUnder } from './raysUnder.ts';

export interface MountingProblem {
  /** What corrections are counted from, with the standard deviations that hold them where `prior` says so. */
  readonly nominal: Mounting;
  readonly points: readonly LightPoint[];
  readonly views: readonly PointView[];
  /** For each of the seven, whether the stated deviation of the nominal mounting holds it. */
  readonly prior: readonly boolean[];
  /** For each of the seven, whether it is an unknown; the others stay at `start`. */
  readonly free: readonly boolean[];
  /** Corrections that the search begins with, and that held parameters keep. Default: none. */
  readonly start?: ArrayLike<number>;
}

/** Where each kind of unknown stands among the columns. */
export interface MountingColumns {
  /** The free ones of the seven, in order. */
  readonly mounting: readonly number[];
  readonly lens: number;
  /** First of the six errors of view i (position E N U, roll, pitch, heading), in their standard deviations. */
  readonly view: (i: number) => number;
  readonly point: (i: number) => number;
  readonly total: number;
}

const LENS_COUNT = 9;

export function columnsOf(problem: MountingProblem): MountingColumns {
  const mounting = problem.free.flatMap((free, i) => (free ? [i] : []));
  const lens = mounting.length;
  const views = lens + LENS_COUNT;
  const points = views + PASS_COUNT * problem.views.length;
  return {
    mounting,
    lens,
    view: (i) => views + PASS_COUNT * i,
    point: (i) => points + 3 * i,
    total: points + 3 * problem.points.length,
  };
}

/** Residuals of a mounting problem and their derivatives: first two rows a ray, then the priors, padded to pairs. */
export interface MountingEquations {
  readonly columns: MountingColumns;
  readonly rayRows: number;
  readonly rows: number;
  /** Unknowns to begin with. */
  readonly start: Float64Array;
  evaluateInto(residuals: Float64Array, jacobian: Float64Array | null, unknowns: Float64Array): boolean;
}

/**
 * Sets up the equations. Unknown are the free ones of the seven, the lens (in standard deviations of the bench), the
 * trajectory's errors of each view (in theirs, correlated in time), and the points. What the smear adds to a ray's
 * deviation is taken at `aboutEnuM`, so that the weights do not depend on the unknowns.
 */
export function mountingEquations(problem: MountingProblem, aboutEnuM: readonly Vec3[]): MountingEquations {
  const { nominal, points, views } = problem;
  const columns = columnsOf(problem);
  const { total } = columns;
  const rayRows = 2 * views.reduce((sum, view) => sum + view.rays.length, 0);
  const held = problem.prior.flatMap((prior, i) => (prior && problem.free[i] ? [i] : []));
  const white = whiteningRows(statedCovariance(nominal), held);
  const even = (n: number): number => n + (n % 2);
  const lensRow = rayRows + PASS_COUNT * views.length;
  const mountingRow = even(lensRow + LENS_COUNT);
  const pointRow = even(mountingRow + held.length);
  const surveyed = points.flatMap((point, i) => (point.surveyedSigmaM === null ? [] : [i]));
  const rows = pointRow + 4 * surveyed.length;
  const begin = Float64Array.from({ length: MOUNTING_COUNT }, (_, i) => problem.start?.[i] ?? 0);
  const start = new Float64Array(total);
  columns.mounting.forEach((parameter, c) => {
    start[c] = begin[parameter];
  });
  for (let i = 0; i < points.length; i++) start.set(aboutEnuM[i], columns.point(i));
  const before = earlierViews(views);
  const sightings = views.map((view) => ({
    rays: Int32Array.from({ length: view.rays.length }, (_, i) => i),
    membership: Float64Array.from(view.rays, (ray) => ray.membership),
    fromNs: view.tNs,
    toNs: view.tNs,
  }));

  const correction = Float64Array.from(begin);
  return {
    columns,
    rayRows,
    rows,
    start,
    evaluateInto(residuals, jacobian, unknowns) {
      jacobian?.fill(0);
      residuals.fill(0);
      columns.mounting.forEach((parameter, c) => {
        correction[parameter] = unknowns[c];
      });
      const mounting = correctedMounting(nominal, correction);
      const turn = leftJacobian([correction[0], correction[1], correction[2]]);
      let row = 0;
      for (let v = 0; v < views.length; v++) {
        const view = views[v];
        const seen = raysUnder(view.track, mounting, view.rays);
        if (!seen) return false;
        const bundle = bundleRays(sightings[v], seen.rays, seen.poses, aboutEnuM[view.point]);
        const at = columns.point(view.point);
        const pointEnuM: Vec3 = [unknowns[at], unknowns[at + 1], unknowns[at + 2]];
        const byPoint = jacobian ? new Float64Array(6 * bundle.rays.length) : null;
        const own = residuals.subarray(row);
        if (!residualsInto(own, byPoint, 3, 0, bundle, pointEnuM)) return false;
        addErrors(own, jacobian?.subarray(row * total) ?? null, bundle, pointEnuM, view, v, mounting, turn, unknowns);
        if (jacobian && byPoint)
          for (let r = 0; r < 2 * bundle.rays.length; r++)
            for (let c = 0; c < 3; c++) jacobian[(row + r) * total + at + c] = byPoint[3 * r + c];
        row += 2 * bundle.rays.length;
      }
      addPriors(residuals, jacobian, unknowns);
      return true;
    },
  };

  /** Adds what lens and trajectory errors do to the residuals of one view, and writes all derivatives but those by the point. */
  function addErrors(
    residuals: Float64Array,
    jacobian: Float64Array | null,
    bundle: RayBundle,
    pointEnuM: Vec3,
    view: PointView,
    v: number,
    mounting: Mounting,
    turn: readonly number[],
    unknowns: Float64Array,
  ): void {
    const sensitivity = systematicSensitivity(bundle, pointEnuM, { ...view.errors, mounting });
    const root = systematicRoot(view.errors);
    const lensAt = PASS_COUNT + MOUNTING_COUNT;
    const viewColumn = columns.view(v);
    for (let r = 0; r < 2 * bundle.rays.length; r++) {
      const s = r * SYSTEMATIC_COUNT;
      for (let p = 0; p < PASS_COUNT; p++) {
        const effect = sensitivity[s + p] * root.get(p, p);
        residuals[r] += effect * unknowns[viewColumn + p];
        if (jacobian) jacobian[r * total + viewColumn + p] = effect;
      }
      for (let k = 0; k < LENS_COUNT; k++) {
        let effect = 0;
        for (let p = 0; p < LENS_COUNT; p++) effect += sensitivity[s + lensAt + p] * root.get(lensAt + p, lensAt + k);
        residuals[r] += effect * unknowns[columns.lens + k];
        if (jacobian) jacobian[r * total + columns.lens + k] = effect;
      }
      if (!jacobian) continue;
      columns.mounting.forEach((parameter, c) => {
        let slope = sensitivity[s + PASS_COUNT + parameter];
        if (parameter < 3) {
          slope = 0;
          for (let k = 0; k < 3; k++) slope += sensitivity[s + PASS_COUNT + k] * turn[3 * k + parameter];
        }
        jacobian[r * total + c] = slope;
      });
    }
  }

  function addPriors(residuals: Float64Array, jacobian: Float64Array | null, unknowns: Float64Array): void {
    const put = (row: number, column: number, slope: number, value = unknowns[column]): void => {
      residuals[row] += slope * value;
      if (jacobian) jacobian[row * total + column] += slope;
    };
    for (let v = 0; v < views.length; v++)
      for (let p = 0; p < PASS_COUNT; p++) {
        const row = rayRows + PASS_COUNT * v + p;
        const earlier = before[v];
        // Views of the same moment share their errors; a little is left, so that the equations stay regular.
        const rho = earlier < 0 ? 0 : Math.min(passCorrelation(views[earlier], views[v], p), 1 - 1e-8);
        const k = 1 / Math.sqrt(1 - rho * rho);
        put(row, columns.view(v) + p, k);
        if (earlier >= 0) put(row, columns.view(earlier) + p, -rho * k);
      }
    for (let k = 0; k < LENS_COUNT; k++) put(lensRow + k, columns.lens + k, 1);
    for (let i = 0; i < held.length; i++)
      for (const parameter of held) put(mountingRow + i, columns.mounting.indexOf(parameter), white.get(i, parameter));
    surveyed.forEach((point, i) => {
      const sigmaM = points[point].surveyedSigmaM as number;
      for (let c = 0; c < 3; c++) {
        const column = columns.point(point) + c;
        put(pointRow + 4 * i + c, column, 1 / sigmaM, unknowns[column] - points[point].positionEnuM[c]);
      }
    });
  }
}

/** For each view the one before it in time and flight, -1 for the first: the errors of a trajectory form a chain. */
function earlierViews(views: readonly PointView[]): Int32Array {
  const order = [...views.keys()].sort(
    (i, j) =>
      (views[i].flight < views[j].flight ? -1 : views[i].flight > views[j].flight ? 1 : 0) ||
      views[i].tNs - views[j].tNs ||
      i - j,
  );
  const before = new Int32Array(views.length).fill(-1);
  order.forEach((i, k) => {
    if (k > 0 && views[order[k - 1]].flight === views[i].flight) before[i] = order[k - 1];
  });
  return before;
}

export type MountingSolution = {
  readonly kind: 'solved';
  /** All seven, held ones as they stood. */
  readonly correction: Float64Array;
  /** Of all unknowns, by `columns`. */
  readonly covariance: Matrix;
  readonly columns: MountingColumns;
  readonly unknowns: Float64Array;
  readonly pointsEnuM: readonly Vec3[];
  /** Robust sum of squared residuals, priors included. */
  readonly cost: number;
  /** The part of it that the rays have. */
  readonly rayCost: number;
  /** Weighted by membership: two residuals a ray. */
  readonly residualCount: number;
};

export type MountingRefusal = {
  readonly kind: 'refused';
  readonly because: Extract<LeastSquaresOutcome, { kind: 'refused' }>['because'];
};

/** A range that moved by more than this share changes the smear enough to draw the weights anew. */
const MOVED_SHARE = 0.02;

/** The most probable mounting, trajectory errors and points together; robust as placing is. */
export function solveMounting(problem: MountingProblem): MountingSolution | MountingRefusal {
  let about = problem.points.map((point) => point.positionEnuM);
  for (let round = 0; ; round++) {
    const equations = mountingEquations(problem, about);
    const outcome = solveLeastSquares({
      start: equations.start,
      residualCount: equations.rows,
      groupSize: 2,
      loss: RAY_LOSS,
      evaluateInto: equations.evaluateInto,
    });
    if (outcome.kind === 'refused') return { kind: 'refused', because: outcome.because };
    const { columns } = equations;
    const found = problem.points.map((_, i): Vec3 => {
      const at = columns.point(i);
      return [outcome.parameters[at], outcome.parameters[at + 1], outcome.parameters[at + 2]];
    });
    const moved = problem.views.some((view) => {
      const first = raysUnder(view.track, problem.nominal, view.rays.slice(0, 1));
      if (!first) return false;
      const [x, y, z] = first.rays.originEnuM;
      const rangeM = distance(found[view.point], [x, y, z]);
      return Math.abs(distance(about[view.point], [x, y, z]) / rangeM - 1) > MOVED_SHARE;
    });
    if (moved && round < 3) {
      about = found;
      continue;
    }
    const correction = Float64Array.from({ length: MOUNTING_COUNT }, (_, i) => problem.start?.[i] ?? 0);
    columns.mounting.forEach((parameter, c) => {
      correction[parameter] = outcome.parameters[c];
    });
    let rayCost = 0;
    for (let r = 0; r < equations.rayRows; r += 2)
      rayCost += RAY_LOSS.rho(outcome.residuals[r] ** 2 + outcome.residuals[r + 1] ** 2);
    return {
      kind: 'solved',
      correction,
      covariance: outcome.covariance,
      columns,
      unknowns: outcome.parameters,
      pointsEnuM: found,
      cost: outcome.cost,
      rayCost,
      residualCount: 2 * problem.views.reduce((sum, v) => sum + v.rays.reduce((s, ray) => s + ray.membership, 0), 0),
    };
  }
}
