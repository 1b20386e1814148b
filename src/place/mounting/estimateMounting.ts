import { Matrix } from 'ml-matrix';
import { chiSquareQuantile } from '../../maths/distributions.ts';
import type { Mat3 } from '../../maths/mat3.ts';
import type { Vec3 } from '../../maths/vec3.ts';
import type { Mounting } from '../../rig/Mounting.ts';
import { correctionAsRegistered, covarianceAsRegistered } from './asRegistered.ts';
import { considerHeld } from './considerHeld.ts';
import { type HeldOutCheck, heldOutCheck } from './holdOut.ts';
import { correctedMounting, MOUNTING_COUNT, statedCovariance } from './MountingParameters.ts';
import { type FlownManoeuvres, flownManoeuvres } from './manoeuvres.ts';
import type { LightPoint, PointView } from './PointView.ts';
import { type Separability, separability } from './separability.ts';
import { type MountingProblem, solveMounting } from './solveMounting.ts';

export interface MountingOptions {
  /** Hold the lever arm at its nominal value; its stated deviation then goes into the others' covariance. Default: estimate it. */
  readonly holdLeverArm?: boolean;
  /** Whether the nominal mounting's deviations hold boresight, lever arm and time offset. Default: all of them. */
  readonly prior?: { readonly boresight?: boolean; readonly leverArm?: boolean; readonly timeOffset?: boolean };
  /** Leave out the check on parts of the flight, which takes as many solutions as there are parts. */
  readonly withoutCheck?: boolean;
}

export type MountingEstimate =
  | {
      readonly kind: 'estimated';
      /** With its joint covariance, 7 x 7. */
      readonly mounting: Mounting;
      /** The one to use with the registered lens as it stands, with its covariance together with that lens, 16 x 16. */
      readonly asRegistered: Mounting;
      /** From the nominal mounting, in the order of MOUNTING_PARAMETERS. */
      readonly correction: Float64Array;
      /** 7 x 7. Held parameters have the nominal mounting's own. */
      readonly covariance: Matrix;
      /** By parameter; held ones are missing. */
      readonly separability: ReadonlyMap<number, Separability>;
      readonly flown: FlownManoeuvres;
      readonly pointsEnuM: readonly Vec3[];
      readonly rays: number;
      readonly views: number;
      /** Root mean square ray residual over its stated deviation. */
      readonly normalisedRms: number;
      /** Variances were multiplied by this, because residuals are larger than their deviations explain (99 %). */
      readonly widenedBy: number;
      /** null: asked to leave it out, or too little to leave a part out. */
      readonly heldOut: HeldOutCheck | null;
      /** Better than the nominal mounting on parts of the flight that the estimation had not seen. */
      readonly accepted: boolean;
    }
  | {
      readonly kind: 'refused';
      readonly because: 'no lights' | 'one pass only' | 'bad start' | 'not determined' | 'no convergence';
    };

/**
 * Boresight, lever arm and time offset of the uv camera from its sightings: one robust least squares over all rays with the
 * mounting, the lens, the trajectory's errors and the places of the lights as unknowns, each held by what is stated of it.
 * @param nominal what corrections are counted from, with its deviations
 */
export function estimateMounting(
  nominal: Mounting,
  points: readonly LightPoint[],
  views: readonly PointView[],
  options: MountingOptions = {},
): MountingEstimate {
  if (views.length === 0) return { kind: 'refused', because: 'no lights' };
  if (new Set(views.map((view) => view.pass)).size < 2) return { kind: 'refused', because: 'one pass only' };
  const leverHeld = options.holdLeverArm === true;
  const { boresight = true, leverArm = true, timeOffset = true } = options.prior ?? {};
  const free = [true, true, true, !leverHeld, !leverHeld, !leverHeld, true];
  const prior = [boresight, boresight, boresight, leverArm, leverArm, leverArm, timeOffset];
  const problem: MountingProblem = { nominal, points, views, prior, free };
  const solution = solveMounting(problem);
  if (solution.kind === 'refused')
    return { kind: 'refused', because: solution.because === 'singular' ? 'not determined' : solution.because };

  const placesFree = points.filter((point) => point.surveyedSigmaM === null).length;
  const unheld = prior.filter((held, i) => !held && free[i]).length;
  const freedom = Math.max(solution.residualCount - 3 * placesFree - unheld, 1);
  const ratio = solution.cost / freedom;
  const widenedBy = ratio > chiSquareQuantile(0.99, freedom) / freedom ? ratio : 1;
  const covariance = considerHeld(problem, solution);
  for (const i of solution.columns.mounting)
    for (const j of solution.columns.mounting) covariance.set(i, j, covariance.get(i, j) * widenedBy);
  const stated = statedCovariance(nominal);
  const priorSigma = prior.map((held, i) => (held ? Math.sqrt(stated.get(i, i)) : null));
  const flown = flownManoeuvres(views, points);
  const heldOut = options.withoutCheck ? null : heldOutCheck(problem);
  return {
    kind: 'estimated',
    mounting: withCovariance(correctedMounting(nominal, solution.correction), covariance),
    asRegistered: {
      ...withCovariance(correctedMounting(nominal, correctionAsRegistered(solution)), covariance),
      jointCovariance: covarianceAsRegistered(solution, covariance, widenedBy, views[0].errors),
    },
    correction: solution.correction,
    covariance,
    separability: separability(
      { ...solution, covariance: Matrix.mul(solution.covariance, widenedBy) },
      views.length,
      priorSigma,
      flown,
    ),
    flown,
    pointsEnuM: solution.pointsEnuM,
    rays: views.reduce((sum, view) => sum + view.rays.length, 0),
    views: views.length,
    normalisedRms: Math.sqrt(solution.rayCost / solution.residualCount),
    widenedBy,
    heldOut,
    accepted: heldOut?.improves ?? false,
  };
}

function withCovariance(mounting: Mounting, covariance: Matrix): Mounting {
  const block = (from: number): Mat3 =>
    [0, 1, 2].flatMap((i) => [0, 1, 2].map((j) => covariance.get(from + i, from + j))) as unknown as Mat3;
  return {
    bodyFromUv: mounting.bodyFromUv,
    timeOffsetNs: mounting.timeOffsetNs,
    boresightCovarianceRad2: block(0),
    leverArmCovarianceM2: block(3),
    timeOffsetSigmaNs: Math.sqrt(covariance.get(6, 6)) * 1e9,
    jointCovariance: Float64Array.from({ length: MOUNTING_COUNT ** 2 }, (_, k) =>
      covariance.get(Math.floor(k / MOUNTING_COUNT), k % MOUNTING_COUNT),
    ),
  };
}
