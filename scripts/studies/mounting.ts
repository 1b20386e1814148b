/**
 * How well a calibration flight tells the mounting, and whether its errors are as large as it says: flights invented ray by ray,
 * with trajectories that wander, over surveyed lamps or over the same lamps at unknown places.
 */
import { inverse, Matrix } from 'ml-matrix';
import { chiSquareQuantile } from '../../src/maths/distributions.ts';
import { flyCalibration, GOOD_LEGS } from '../../src/place/mounting/calibrationFlight.testdata.ts';
import { estimateMounting } from '../../src/place/mounting/estimateMounting.ts';
import { MOUNTING_COUNT, MOUNTING_PARAMETERS } from '../../src/place/mounting/MountingParameters.ts';

export interface MountingStudyOptions {
  /** Default 60. */
  readonly flights?: number;
  readonly firstSeed?: number;
  /** Whether the lamps' places are known. Default true. */
  readonly surveyed?: boolean;
  readonly raysPerView?: number;
  readonly onProgress?: (done: string) => void;
}

export interface MountingStudy {
  readonly flights: number;
  readonly refused: number;
  /** Mean squared error by the covariance, 7 where the covariance is right, and its 95 % band. */
  readonly normalisedErrorSquared: number;
  readonly band95: readonly [number, number];
  /** Degrees, metres, microseconds. */
  readonly parameters: readonly {
    readonly name: string;
    readonly rmsError: number;
    readonly meanSigma: number;
    /** Mean squared error over the variance, 1 where it is right. */
    readonly normalisedSquare: number;
  }[];
}

export function studyMounting(options: MountingStudyOptions = {}): MountingStudy {
  const flights = options.flights ?? 60;
  const first = options.firstSeed ?? 100;
  const square = new Float64Array(MOUNTING_COUNT);
  const sigma = new Float64Array(MOUNTING_COUNT);
  const normalised = new Float64Array(MOUNTING_COUNT);
  let total = 0;
  let used = 0;
  for (let seed = first; seed < first + flights; seed++) {
    const { problem, truth } = flyCalibration(
      { legs: GOOD_LEGS, raysPerView: options.raysPerView ?? 30, surveyed: options.surveyed ?? true },
      seed,
    );
    const found = estimateMounting(problem.nominal, problem.points, problem.views, { withoutCheck: true });
    if (found.kind === 'refused') continue;
    used++;
    const error = Array.from(truth, (value, i) => found.correction[i] - value);
    const column = Matrix.columnVector(error);
    total += column.transpose().mmul(inverse(found.covariance)).mmul(column).get(0, 0);
    for (let i = 0; i < MOUNTING_COUNT; i++) {
      const variance = found.covariance.get(i, i);
      square[i] += error[i] ** 2;
      sigma[i] += Math.sqrt(variance);
      normalised[i] += error[i] ** 2 / variance;
    }
    options.onProgress?.(`${used} of ${flights}: normalised error squared ${(total / used).toFixed(2)}`);
  }
  const unit = (i: number): number => (i < 3 ? 180 / Math.PI : i < 6 ? 1 : 1e6);
  return {
    flights: used,
    refused: flights - used,
    normalisedErrorSquared: total / used,
    band95: [
      chiSquareQuantile(0.025, MOUNTING_COUNT * used) / used,
      chiSquareQuantile(0.975, MOUNTING_COUNT * used) / used,
    ],
    parameters: MOUNTING_PARAMETERS.map((name, i) => ({
      name,
      rmsError: Math.sqrt(square[i] / used) * unit(i),
      meanSigma: (sigma[i] / used) * unit(i),
      normalisedSquare: normalised[i] / used,
    })),
  };
}
