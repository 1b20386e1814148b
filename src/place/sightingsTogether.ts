import { CholeskyDecomposition, Matrix } from 'ml-matrix';
import { freeOf, type PlacedOccasion } from './agreement.ts';
import { PASS_PARAMETERS, passCorrelation } from './passCorrelation.ts';
import { PASS_COUNT, SYSTEMATIC_COUNT, type SystematicErrors } from './SystematicErrors.ts';
import { systematicRoot } from './systematicPrior.ts';

/** Of each rig: boresight, lever arm, time offset and lens, in the order of the systematic errors. */
export const RIG_COUNT = SYSTEMATIC_COUNT - PASS_COUNT;

/**
 * The places of many sightings as one linear problem: observed = design x places + unknown x (rigs) + error, with the
 * covariance that all other errors give: those of the trajectory by their distance in time, the light's instant and the scatter of
 * the rays each sighting's own.
 */
export interface SightingsTogether {
  /** 3 n x 1, metres. */
  readonly observed: Matrix;
  /** 3 n x 3 per discharge: which place each sighting is of. */
  readonly design: Matrix;
  /** 3 n x RIG_COUNT per rig. */
  readonly unknown: Matrix;
  /** 3 n x 3 n, m². */
  readonly covariance: Matrix;
  /** The part of it that is each sighting's own scatter of rays. */
  readonly scatter: Matrix;
}

/** The rigs of all sightings, in the order in which they come. */
export interface Rigs {
  readonly keys: readonly string[];
  /** Of one sighting each. */
  readonly errors: readonly SystematicErrors[];
  /** Root of the covariance of all their unknowns, as mounting and registration state it. */
  readonly root: Matrix;
}

export const rigKeyOf = (sighting: PlacedOccasion): string => sighting.errors.rigKey ?? '';

export function rigsOf(sightings: readonly PlacedOccasion[]): Rigs {
  const first = new Map<string, PlacedOccasion>();
  for (const sighting of sightings) if (!first.has(rigKeyOf(sighting))) first.set(rigKeyOf(sighting), sighting);
  const root = Matrix.zeros(RIG_COUNT * first.size, RIG_COUNT * first.size);
  [...first.values()].forEach(({ errors }, k) => {
    const own = systematicRoot(errors).subMatrix(PASS_COUNT, SYSTEMATIC_COUNT - 1, PASS_COUNT, SYSTEMATIC_COUNT - 1);
    root.setSubMatrix(own, RIG_COUNT * k, RIG_COUNT * k);
  });
  return { keys: [...first.keys()], errors: [...first.values()].map((sighting) => sighting.errors), root };
}

/** @param groups the sightings of each discharge; all rigs of theirs must be among `rigs` */
export function sightingsTogether(groups: readonly (readonly PlacedOccasion[])[], rigs: Rigs): SightingsTogether {
  const members = groups.flatMap((group, place) => group.map((sighting) => ({ sighting, place })));
  const n = 3 * members.length;
  const observed = new Matrix(n, 1);
  const design = Matrix.zeros(n, 3 * groups.length);
  const unknown = Matrix.zeros(n, RIG_COUNT * rigs.keys.length);
  const covariance = Matrix.zeros(n, n);
  const scatter = Matrix.zeros(n, n);
  members.forEach(({ sighting, place }, i) => {
    const free = freeOf(sighting);
    for (let r = 0; r < 3; r++) {
      observed.set(3 * i + r, 0, free.positionEnuM[r]);
      design.set(3 * i + r, 3 * place + r, 1);
      for (let c = 0; c < 3; c++) scatter.set(3 * i + r, 3 * i + c, free.randomCovarianceEnuM2[3 * r + c]);
    }
    // A correction moves the place as seen; what was seen without it is off by as much the other way.
    const effect = sighting.systematicSlope.subMatrix(0, 2, PASS_COUNT, SYSTEMATIC_COUNT - 1);
    unknown.setSubMatrix(Matrix.mul(effect, -1), 3 * i, RIG_COUNT * rigs.keys.indexOf(rigKeyOf(sighting)));
    const light = Matrix.columnVector([...sighting.lightEffectM]);
    covariance.setSubMatrix(light.mmul(light.transpose()), 3 * i, 3 * i);
  });
  covariance.add(scatter);
  for (let i = 0; i < members.length; i++)
    for (let j = 0; j < members.length; j++) addTrajectory(covariance, i, j, members[i].sighting, members[j].sighting);
  return { observed, design, unknown, covariance, scatter };
}

/** What the trajectory's errors make of two sightings together. */
function addTrajectory(covariance: Matrix, i: number, j: number, a: PlacedOccasion, b: PlacedOccasion): void {
  for (const p of PASS_PARAMETERS) {
    const rho = i === j ? 1 : passCorrelation(a, b, p);
    if (rho < 1e-6) continue;
    for (let r = 0; r < 3; r++)
      for (let c = 0; c < 3; c++) {
        const shared = rho * a.systematicEffectM.get(r, p) * b.systematicEffectM.get(c, p);
        covariance.set(3 * i + r, 3 * j + c, covariance.get(3 * i + r, 3 * j + c) + shared);
      }
  }
}

/** Places by generalised least squares. @returns their vector, its covariance, and the part of it from the rays' scatter */
export function placesOf({ observed, design, covariance, scatter }: Omit<SightingsTogether, 'unknown'>): {
  places: Matrix;
  covariance: Matrix;
  scatter: Matrix;
} {
  const weighted = solver(covariance)(design);
  const own = solver(design.transpose().mmul(weighted))(Matrix.eye(design.columns));
  const estimator = own.mmul(weighted.transpose());
  return {
    places: estimator.mmul(observed),
    covariance: own,
    scatter: estimator.mmul(scatter).mmul(estimator.transpose()),
  };
}

/** The inverse covariance of all differences between sightings of one discharge: what the places themselves explain is taken out. */
export function weightOfDifferences({ design, covariance }: Pick<SightingsTogether, 'design' | 'covariance'>): Matrix {
  const solve = solver(covariance);
  const weighted = solve(design);
  const explained = weighted.mmul(solver(design.transpose().mmul(weighted))(weighted.transpose()));
  return Matrix.sub(solve(Matrix.eye(covariance.rows)), explained);
}

function solver(covariance: Matrix): (right: Matrix) => Matrix {
  // Exactly symmetric, where rounding left it nearly so.
  const cholesky = new CholeskyDecomposition(Matrix.add(covariance, covariance.transpose()).mul(0.5));
  if (!cholesky.isPositiveDefinite()) throw new RangeError('a sighting has no random error of its own');
  return (right) => cholesky.solve(right);
}
