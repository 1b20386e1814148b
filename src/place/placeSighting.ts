import { Matrix } from 'ml-matrix';
import { chiSquareQuantile } from '../maths/distributions.ts';
import { solveLeastSquares } from '../maths/leastSquares.ts';
import { addMat, type Mat3, quadraticForm, scaleMat } from '../maths/mat3.ts';
import { huber } from '../maths/robustLoss.ts';
import { distance, dot, subtract, unit, type Vec3 } from '../maths/vec3.ts';
import type { EventRays, FramePoses } from '../sighting/EventRays.ts';
import type { Sighting } from '../sighting/Sighting.ts';
import type { DepthPrior } from './depthFromLine.ts';
import type { Placement } from './Placement.ts';
import { bundleRays, crossingDegAt, meanRay, type RayBundle, residualsInto } from './RayBundle.ts';
import { SYSTEMATIC_COUNT, type SystematicErrors, TIME_OFFSET } from './SystematicErrors.ts';
import { systematicRoot } from './systematicPrior.ts';
import { systematicSensitivity } from './systematicSensitivity.ts';

export type Placed = Extract<Placement, { kind: 'placed' }>;

/** A placing with what it takes to compare it with others: how its position answers to each systematic error. */
export interface PlacedBundle {
  readonly placement: Placed;
  readonly bundle: RayBundle;
  /** d position / d systematic: 3 x SYSTEMATIC_COUNT, metres per metre, radian, second, or unit of the lens. */
  readonly systematicSlope: Matrix;
  /** The same times the prior's root: metres for one sigma of each. */
  readonly systematicEffectM: Matrix;
  /** The same for one sigma of the light's mean instant, which is this pass' and source's own. */
  readonly lightEffectM: Vec3;
}

export interface PlacingOptions {
  /** Asked for a depth only where the rays leave it uncertain by more than `holdAboveM`. */
  readonly depthFromLine?: (originEnuM: Vec3, directionEnu: Vec3, sigmaRad: number) => DepthPrior | null;
  /** Standard deviation along the view from which the line model is asked. Default HOLD_ABOVE_M. */
  readonly holdAboveM?: number;
  /** Places follow the mounting as stated, whatever the discharges together say of it. */
  readonly asMounted?: boolean;
}

/** The scale of hardware: a depth that is worse does not tell one component from the next. */
export const HOLD_ABOVE_M = 1;

/** A residual of three sigma in the plane happens to 1 % of good rays: the loss costs little where nothing is wrong. */
export const RAY_LOSS = huber(3);

/**
 * Where a sighting's source is: non-linear least squares over its rays, robust, weighted by membership. The covariance
 * is split into what differs from ray to ray and what the pass shares; the latter is propagated by the implicit function
 * theorem, dX/ds = -(JᵀWJ)⁻¹ JᵀW dr/ds, and does not shrink with more rays.
 * Where the residuals are larger than their sigmas explain (99 % limit of chi-square) the random part is widened by as much.
 */
export function placeSighting(
  sighting: Sighting,
  rays: EventRays,
  poses: FramePoses,
  errors: SystematicErrors,
  options: PlacingOptions = {},
): Placement {
  const outcome = placeBundle(sighting, rays, poses, errors, options);
  return 'kind' in outcome ? outcome : outcome.placement;
}

/** As placeSighting, keeping the rays and the sensitivities for joining several passes. */
export function placeBundle(
  sighting: Sighting,
  rays: EventRays,
  poses: FramePoses,
  errors: SystematicErrors,
  options: PlacingOptions = {},
): PlacedBundle | Extract<Placement, { kind: 'refused' }> {
  const holdAboveM = options.holdAboveM ?? HOLD_ABOVE_M;
  let aboutEnuM = sighting.seedEnuM;
  const bundleAbout = (placeEnuM: Vec3): RayBundle =>
    bundleRays(sighting, rays, poses, placeEnuM, errors.lightInstantSigmaS);
  let bundle = bundleAbout(aboutEnuM);
  const count = bundle.rays.length;
  if (count < 2) return { kind: 'refused', because: 'too few rays', rays: count };
  let free = solveFor(bundle, aboutEnuM, null);
  if (free.kind === 'solved' && movedRange(bundle, aboutEnuM, pointOf(free.parameters)) > 0.02) {
    // The smear was drawn for the seed's range: once more for the range found.
    aboutEnuM = pointOf(free.parameters);
    bundle = bundleAbout(aboutEnuM);
    free = solveFor(bundle, aboutEnuM, null);
  }
  if (free.kind === 'refused' && free.because === 'bad start')
    return { kind: 'refused', because: 'behind the camera', rays: count };
  const view = meanRay(bundle);
  const depthSigmaM =
    free.kind === 'solved'
      ? Math.sqrt(quadraticForm(mat3Of(free.covariance), view.directionEnu))
      : Number.POSITIVE_INFINITY;
  const depthM =
    free.kind === 'solved' ? dot(subtract(pointOf(free.parameters), view.originEnuM), view.directionEnu) : 0;
  // Beyond a third of the range the linear covariance says nothing any more.
  const usable = free.kind === 'solved' && depthSigmaM < depthM / 3;
  if (usable && depthSigmaM <= holdAboveM) return describe(bundle, free, errors, null);

  const sigmaRad = lateralSigmaRad(bundle, errors);
  const prior = options.depthFromLine?.(view.originEnuM, view.directionEnu, sigmaRad) ?? null;
  if (prior) {
    const start: Vec3 = [0, 1, 2].map(
      (c) => view.originEnuM[c] + prior.depthM * view.directionEnu[c],
    ) as unknown as Vec3;
    const hold = { ...view, ...prior };
    bundle = bundleAbout(start);
    const held = solveFor(bundle, start, hold);
    if (held.kind === 'solved')
      return describe(bundle, held, errors, { hold, unheld: usable ? (free as Solved) : null });
  }
  if (usable) return describe(bundle, free, errors, null);
  if (free.kind === 'refused' && free.because === 'no convergence' && crossingDegAt(aboutEnuM, [bundle]) > 2)
    return { kind: 'refused', because: 'no convergence', rays: count };
  return { kind: 'refused', because: 'rays nearly parallel', rays: count };
}

/** Relative change of range from one place to another, seen from the first ray. */
function movedRange(bundle: RayBundle, from: Vec3, to: Vec3): number {
  const { originEnuM } = bundle.rays[0];
  return Math.abs(distance(originEnuM, to) / distance(originEnuM, from) - 1);
}

type Outcome = ReturnType<typeof solveLeastSquares>;
type Solved = Extract<Outcome, { kind: 'solved' }>;

/** A depth lent by the line, along the view that it was asked for. */
export interface Hold extends DepthPrior {
  readonly originEnuM: Vec3;
  readonly directionEnu: Vec3;
}

/** The residual of a held depth, in its standard deviations. */
export const holdMisfit = (hold: Hold, pointEnuM: Vec3): number =>
  (dot(subtract(pointEnuM, hold.originEnuM), hold.directionEnu) - hold.depthM) / hold.sigmaM;

/** Covariance of a held place without its hold, where the rays alone gave none: half the range stands for not knowing. */
export const withoutHold = (covarianceEnuM2: Mat3, hold: Hold): Mat3 =>
  addMat(covarianceEnuM2, outer(hold.directionEnu, (hold.depthM / 2) ** 2));

function solveFor(bundle: RayBundle, startEnuM: Vec3, hold: Hold | null): Outcome {
  const rows = 2 * bundle.rays.length;
  return solveLeastSquares({
    start: startEnuM,
    residualCount: rows + (hold ? 2 : 0),
    groupSize: 2,
    loss: RAY_LOSS,
    evaluateInto(residuals, jacobian, parameters) {
      const point = pointOf(parameters);
      if (!residualsInto(residuals, jacobian, 3, 0, bundle, point)) return false;
      if (hold) {
        residuals[rows] = holdMisfit(hold, point);
        residuals[rows + 1] = 0;
        if (jacobian)
          for (let c = 0; c < 3; c++) {
            jacobian[rows * 3 + c] = hold.directionEnu[c] / hold.sigmaM;
            jacobian[(rows + 1) * 3 + c] = 0;
          }
      }
      return true;
    },
  });
}

function describe(
  bundle: RayBundle,
  solved: Outcome,
  errors: SystematicErrors,
  held: { hold: Hold; unheld: Solved | null } | null,
): PlacedBundle {
  if (solved.kind !== 'solved') throw new Error('describe: only a solution can be described');
  const positionEnuM = pointOf(solved.parameters);
  const { effort, chi2OverFreedom, widened } = misfit(bundle, solved, held !== null);
  const random = scaleMat(mat3Of(solved.covariance), widened);
  const { slope, effectM, lightEffectM } = systematicEffect(bundle, positionEnuM, solved, errors);
  const systematic = addMat(mat3Of(effectM.mmul(effectM.transpose())), square(lightEffectM));
  let withoutLine: Placed['withoutLine'];
  if (held) {
    const { unheld, hold } = held;
    const loose: Mat3 = unheld ? mat3Of(unheld.covariance) : withoutHold(random, hold);
    withoutLine = {
      positionEnuM: unheld ? pointOf(unheld.parameters) : positionEnuM,
      covarianceEnuM2: addMat(loose, systematic),
    };
  }
  return {
    bundle,
    systematicSlope: slope,
    systematicEffectM: effectM,
    lightEffectM,
    placement: {
      kind: 'placed',
      positionEnuM,
      covarianceEnuM2: addMat(random, systematic),
      randomCovarianceEnuM2: random,
      systematicCovarianceEnuM2: systematic,
      rays: bundle.rays.length,
      normalisedRms: Math.sqrt(effort > 0 ? chi2OverFreedom : 1),
      nearestRangeM: Math.min(...bundle.rays.map((ray) => distance(ray.originEnuM, positionEnuM))),
      crossingDeg: crossingDegAt(positionEnuM, [bundle]),
      heldByLine: held !== null,
      ...(withoutLine ? { withoutLine } : {}),
    },
  };
}

/** Robust chi-square against its degrees of freedom, and by how much the random covariance must grow for it. */
function misfit(
  bundle: RayBundle,
  solved: Solved,
  held: boolean,
): { effort: number; chi2OverFreedom: number; widened: number } {
  const members = bundle.rays.reduce((sum, ray) => sum + ray.membership, 0);
  const freedom = 2 * members - (held ? 2 : 3);
  if (!(freedom > 0)) return { effort: 0, chi2OverFreedom: 1, widened: 1 };
  const ratio = solved.cost / freedom;
  const limit = chiSquareQuantile(0.99, freedom) / freedom;
  return { effort: freedom, chi2OverFreedom: ratio, widened: ratio > limit ? ratio : 1 };
}

function systematicEffect(
  bundle: RayBundle,
  pointEnuM: Vec3,
  solved: Solved,
  errors: SystematicErrors,
): { slope: Matrix; effectM: Matrix; lightEffectM: Vec3 } {
  const rows = 2 * bundle.rays.length;
  const jacobian = new Float64Array(rows * 3);
  residualsInto(new Float64Array(rows), jacobian, 3, 0, bundle, pointEnuM);
  const sensitivity = systematicSensitivity(bundle, pointEnuM, errors);
  const pull = new Float64Array(3 * SYSTEMATIC_COUNT);
  for (let row = 0; row < rows; row++) {
    const weight = solved.weights[row >> 1];
    for (let c = 0; c < 3; c++) {
      const j = jacobian[row * 3 + c] * weight;
      for (let p = 0; p < SYSTEMATIC_COUNT; p++)
        pull[c * SYSTEMATIC_COUNT + p] += j * sensitivity[row * SYSTEMATIC_COUNT + p];
    }
  }
  const slope = solved.covariance.mmul(Matrix.from1DArray(3, SYSTEMATIC_COUNT, pull)).mul(-1);
  const light = errors.lightInstantSigmaS ?? 0;
  return {
    slope,
    effectM: slope.mmul(systematicRoot(errors)),
    lightEffectM: [
      slope.get(0, TIME_OFFSET) * light,
      slope.get(1, TIME_OFFSET) * light,
      slope.get(2, TIME_OFFSET) * light,
    ],
  };
}

const square = (v: Vec3): Mat3 => v.flatMap((a) => v.map((b) => a * b)) as unknown as Mat3;

/** How far the mean viewing direction may be off, rad: what the rays share, and the mean of what they do not. */
export function lateralSigmaRad(bundle: RayBundle, errors: SystematicErrors): number {
  const random = bundle.rays.reduce((sum, ray) => sum + 1 / ray.sigmaSmearRad ** 2, 0) ** -0.5;
  const { roll, pitch, heading } = errors.attitudeSigmaRad;
  const boresight = errors.mounting.boresightCovarianceRad2;
  return Math.sqrt(random ** 2 + roll ** 2 + pitch ** 2 + heading ** 2 + boresight[0] + boresight[4] + boresight[8]);
}

export const pointOf = (p: ArrayLike<number>): Vec3 => [p[0], p[1], p[2]];

/** The first 3 x 3 block. */
export const mat3Of = (m: Matrix): Mat3 =>
  [0, 1, 2].flatMap((i) => [0, 1, 2].map((j) => (m.get(i, j) + m.get(j, i)) / 2)) as unknown as Mat3;

const outer = (direction: Vec3, varianceM2: number): Mat3 => {
  const u = unit(direction);
  return u.flatMap((a) => u.map((b) => a * b * varianceM2)) as unknown as Mat3;
};
