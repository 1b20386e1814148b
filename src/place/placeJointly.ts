import { chiSquareQuantile } from '../maths/distributions.ts';
import { solveLeastSquares } from '../maths/leastSquares.ts';
import { addMat, scaleMat } from '../maths/mat3.ts';
import type { RobustLoss } from '../maths/robustLoss.ts';
import { distance, type Vec3 } from '../maths/vec3.ts';
import type { Placement } from './Placement.ts';
import { correlationRoot, type Occasion, PASS_PARAMETERS } from './passCorrelation.ts';
import { type Hold, holdMisfit, mat3Of, type Placed, pointOf, RAY_LOSS } from './placeSighting.ts';
import { crossingDegAt, type RayBundle, residualsInto } from './RayBundle.ts';
import { PASS_COUNT, SYSTEMATIC_COUNT, TIME_OFFSET } from './SystematicErrors.ts';
import { stretchesOf } from './stretchesOf.ts';
import { systematicRoot } from './systematicPrior.ts';
import { systematicSensitivity } from './systematicSensitivity.ts';

/** One pass' rays with the occasion that its errors belong to. */
export interface JointBundle extends Occasion {
  readonly bundle: RayBundle;
}

const SHARED_COUNT = SYSTEMATIC_COUNT - PASS_COUNT;

/**
 * One source from the rays of several passes: its position together with the systematic errors, as nuisances that their
 * stated deviations hold: those of the rig are common, those of the trajectory go with each pass and its time. Passes
 * in opposite directions thus cancel what they can tell apart, and no error shared by a pass is averaged as if it were noise.
 * A pass is taken in stretches of half a second (stretchesOf), each with errors of its own that hang together as their times do:
 * what a bright source's thousands of rays show to a hundredth of a pixel is the wander of the trajectory, not the lens.
 * @param hold a depth from the line, for passes that all look along one direction
 * The systematic part of the covariance is what the nuisances add: total = (random) + (position x nuisance)².
 */
export function placeJointly(whole: readonly JointBundle[], startEnuM: Vec3, hold: Hold | null = null): Placement {
  const layout = layOut(whole);
  const { passes, nuisances } = layout;
  const rayRows = 2 * passes.reduce((sum, pass) => sum + pass.bundle.rays.length, 0);
  const columns = 3 + nuisances;
  // The hold has the last row but one, beside a row of nought: residuals go to the robust loss in pairs.
  const holdRow = rayRows + nuisances + (nuisances % 2);
  const rows = holdRow + 2;
  let aboutEnuM = startEnuM;
  for (let round = 0; ; round++) {
    const effect = nuisanceEffect(layout, aboutEnuM, rayRows);
    const outcome = solveLeastSquares({
      start: [...aboutEnuM, ...new Array<number>(nuisances).fill(0)],
      residualCount: rows,
      groupSize: 2,
      loss: RAY_LOSS,
      evaluateInto(residuals, jacobian, parameters) {
        jacobian?.fill(0);
        const point = pointOf(parameters);
        let row = 0;
        for (const { bundle } of passes) {
          if (!residualsInto(residuals, jacobian, columns, row, bundle, point)) return false;
          row += 2 * bundle.rays.length;
        }
        for (let r = 0; r < rayRows; r++) {
          for (let k = 0; k < nuisances; k++) {
            const e = effect[r * nuisances + k];
            residuals[r] += e * parameters[3 + k];
            if (jacobian) jacobian[r * columns + 3 + k] = e;
          }
        }
        residuals.fill(0, rayRows);
        for (let k = 0; k < nuisances; k++) {
          residuals[rayRows + k] = parameters[3 + k];
          if (jacobian) jacobian[(rayRows + k) * columns + 3 + k] = 1;
        }
        if (hold) {
          residuals[holdRow] = holdMisfit(hold, point);
          if (jacobian)
            for (let c = 0; c < 3; c++) jacobian[holdRow * columns + c] = hold.directionEnu[c] / hold.sigmaM;
        }
        return true;
      },
    });
    if (outcome.kind === 'refused')
      return {
        kind: 'refused',
        because:
          outcome.because === 'bad start'
            ? 'behind the camera'
            : outcome.because === 'singular'
              ? 'rays nearly parallel'
              : 'no convergence',
        rays: rayRows / 2,
      };
    const positionEnuM = pointOf(outcome.parameters);
    // The sensitivities belong to a place; they change by one part in a hundred over half a metre at 40 m.
    if (round < 3 && distance(positionEnuM, aboutEnuM) > 0.5) {
      aboutEnuM = positionEnuM;
      continue;
    }
    return { ...describe(passes, outcome, rayRows, nuisances, positionEnuM), heldByLine: hold !== null };
  }
}

/** A stretch of a pass, with the numbers of its pass and of its rig among all. */
interface Stretch extends JointBundle {
  readonly pass: number;
  readonly rig: number;
}

/** The nuisances: those of each rig, those of each stretch, and the light's instant of each pass. */
interface Layout {
  readonly passes: readonly Stretch[];
  readonly stretchesAt: number;
  readonly lightAt: number;
  readonly nuisances: number;
}

function layOut(whole: readonly JointBundle[]): Layout {
  const rigs = [...new Set(whole.map((pass) => pass.errors.rigKey ?? ''))];
  const passes = whole.flatMap(({ flight, errors, bundle: all }, pass) =>
    stretchesOf(all).map((bundle) => ({
      flight,
      errors,
      bundle,
      tNs: bundle.tNs,
      pass,
      rig: rigs.indexOf(errors.rigKey ?? ''),
    })),
  );
  const stretchesAt = SHARED_COUNT * rigs.length;
  const lightAt = stretchesAt + PASS_COUNT * passes.length;
  return { passes, stretchesAt, lightAt, nuisances: lightAt + whole.length };
}

type Solved = Extract<ReturnType<typeof solveLeastSquares>, { kind: 'solved' }>;

function describe(
  passes: readonly JointBundle[],
  solved: Solved,
  rayRows: number,
  nuisances: number,
  positionEnuM: Vec3,
): Placed {
  const total = mat3Of(solved.covariance);
  const cross = solved.covariance.subMatrix(0, 2, 3, 2 + nuisances);
  const systematic = mat3Of(cross.mmul(cross.transpose()));
  const bundles = passes.map((pass) => pass.bundle);
  const members = bundles.reduce((sum, bundle) => sum + bundle.rays.reduce((s, ray) => s + ray.membership, 0), 0);
  const freedom = Math.max(2 * members - 3, 1);
  const ratio = costOf(solved.residuals, rayRows, RAY_LOSS) / freedom;
  const widened = ratio > chiSquareQuantile(0.99, freedom) / freedom ? ratio : 1;
  const random = scaleMat(addMat(total, scaleMat(systematic, -1)), widened);
  return {
    kind: 'placed',
    positionEnuM,
    covarianceEnuM2: addMat(random, systematic),
    randomCovarianceEnuM2: random,
    systematicCovarianceEnuM2: systematic,
    rays: rayRows / 2,
    normalisedRms: Math.sqrt(ratio),
    nearestRangeM: Math.min(
      ...bundles.flatMap((bundle) => bundle.rays.map((ray) => distance(ray.originEnuM, positionEnuM))),
    ),
    crossingDeg: crossingDegAt(positionEnuM, bundles),
    heldByLine: false,
  };
}

function costOf(residuals: Float64Array, rows: number, loss: RobustLoss): number {
  let cost = 0;
  for (let r = 0; r < rows; r += 2) cost += loss.rho(residuals[r] ** 2 + residuals[r + 1] ** 2);
  return cost;
}

/** Change of each ray residual by one prior sigma of each nuisance: rayRows x nuisances, the shared ones first. */
function nuisanceEffect(
  { passes, stretchesAt, lightAt, nuisances }: Layout,
  aboutEnuM: Vec3,
  rayRows: number,
): Float64Array {
  const effect = new Float64Array(rayRows * nuisances);
  const chains = PASS_PARAMETERS.map((parameter) => correlationRoot(passes, parameter));
  let firstRow = 0;
  passes.forEach((pass, i) => {
    const root = systematicRoot(pass.errors);
    const sensitivity = systematicSensitivity(pass.bundle, aboutEnuM, pass.errors);
    const own = 2 * pass.bundle.rays.length;
    for (let r = 0; r < own; r++) {
      const from = r * SYSTEMATIC_COUNT;
      const to = (firstRow + r) * nuisances;
      for (let k = 0; k < SHARED_COUNT; k++) {
        let sum = 0;
        for (let p = PASS_COUNT; p < SYSTEMATIC_COUNT; p++) sum += sensitivity[from + p] * root.get(p, PASS_COUNT + k);
        effect[to + SHARED_COUNT * pass.rig + k] = sum;
      }
      for (const p of PASS_PARAMETERS) {
        const one = sensitivity[from + p] * root.get(p, p);
        for (let k = 0; k <= passes.length - 1; k++)
          effect[to + stretchesAt + k * PASS_COUNT + p] = one * chains[p][i][k];
      }
      effect[to + lightAt + pass.pass] = sensitivity[from + TIME_OFFSET] * (pass.errors.lightInstantSigmaS ?? 0);
    }
    firstRow += own;
  });
  return effect;
}
