import { uvPx } from '../camera/pixel.ts';
import type { RigDescription } from '../recording/RigDescription.ts';
import type { BenchFrame, BenchRun } from './BenchObservations.ts';
import type { BundleSolution } from './bundle.ts';
import type { Correspondence } from './Correspondence.ts';
import { colourFromUv } from './colourFromUv.ts';
import {
  eachObservation,
  fitRig,
  type LeftOutFrame,
  type Outlier,
  type RefusedFit,
  type RigFitOutcome,
} from './fitRig.ts';
import { climbLadder, type Ladder } from './ladder.ts';
import type { MarkOffset } from './markOffsets.ts';
import { type Registration, TWO_CAMERA_PARAMETER_COUNT } from './Registration.ts';
import { type RailMotion, railMotions, type SigmaFactors } from './rigBundle.ts';
import { convexHull } from './support.ts';
import { type Weakness, weaknesses } from './weaknesses.ts';

export interface ResidualStatistics {
  /** Root mean square of the two-dimensional residual of the adjustment, px of each image. */
  readonly uvRmsPx: number;
  readonly colourRmsPx: number;
  /** By what the standard deviations stated by the finders had to be multiplied. */
  readonly sigmaFactors: SigmaFactors;
  /** Two-dimensional RMS that the noise of both finders alone makes of a mapping without error, colour px. */
  readonly noiseFloorPx: number;
  /** The same from what the finders state by themselves, before the factors. */
  readonly statedNoiseFloorPx: number;
  readonly bySweep: readonly {
    readonly name: string;
    readonly heldOutRmsPx: number;
    readonly correspondences: number;
  }[];
}

export interface RigCalibration {
  readonly kind: 'calibrated';
  /** Without its hash, which is that of the file it is written to. */
  readonly registration: Omit<Registration, 'hash'>;
  readonly ladder: Ladder;
  readonly statistics: ResidualStatistics;
  readonly outliers: readonly Outlier[];
  readonly leftOut: readonly LeftOutFrame[];
  readonly correspondences: readonly Correspondence[];
  /** What this run does not determine well, and what to record to cure it. */
  readonly weaknesses: readonly Weakness[];
  readonly framesUsed: number;
  readonly rails: readonly RailMotion[];
  readonly offsets: readonly MarkOffset[];
}

export type RigCalibrationOutcome = RigCalibration | RefusedFit;

/**
 * From marks seen in both streams to a registration: adjustment of both cameras with robust loss, outliers removed by
 * name, standard deviations of the finders corrected from the residuals of each stream, the ladder of models on
 * held-out sweeps, and the covariance scaled by the held-out error where that exceeds the noise.
 */
export function calibrateRig(
  rig: RigDescription,
  run: BenchRun,
  fit: RigFitOutcome = fitRig(rig, run),
): RigCalibrationOutcome {
  if (fit.kind === 'refused') return fit;
  const { frames: usable, poses, state, factors, correspondences, model, solution, outliers, leftOut } = fit;
  const ladder = climbLadder(rig, run, usable, poses, state, factors, correspondences);
  const floor = noiseFloor(correspondences, factors);
  const row = ladder.rows.find((r) => r.kind === 'two-camera')!;
  const heldOutRmsPx = row.heldOutRmsPx ?? row.inSampleRmsPx ?? floor.noiseFloorPx;
  const withField = ladder.chosen === 'two-camera with residual field';
  const registration = {
    model: withField ? { ...model, kind: ladder.chosen, residualField: ladder.residualField } : model,
    covariance: scaledCovariance(solution, heldOutRmsPx / floor.noiseFloorPx),
    support: {
      uvHullPx: convexHull(correspondences.map((c) => c.uv)),
      nearestM: 1 / Math.max(...correspondences.map((c) => c.inverseRangePerM)),
      farthestM: 1 / Math.min(...correspondences.map((c) => c.inverseRangePerM)),
    },
    heldOutRmsPx: withField ? (ladder.rows.at(-1)!.heldOutRmsPx ?? heldOutRmsPx) : heldOutRmsPx,
  } as const;
  return {
    kind: 'calibrated',
    registration,
    ladder,
    statistics: {
      ...residualRms(usable, solution),
      sigmaFactors: factors,
      ...floor,
      bySweep: bySweep(run, correspondences, ladder),
    },
    outliers,
    leftOut,
    correspondences,
    weaknesses: weaknesses(rig, run, registration),
    framesUsed: usable.length,
    rails: railMotions(run, usable, poses),
    offsets: fit.offsets,
  };
}

function noiseFloor(
  correspondences: readonly Correspondence[],
  factors: SigmaFactors,
): { noiseFloorPx: number; statedNoiseFloorPx: number } {
  const rms = (square: (c: Correspondence) => number): number =>
    Math.sqrt(correspondences.reduce((s, c) => s + square(c), 0) / correspondences.length);
  const fromUv = (c: Correspondence): number => c.sigmaPx ** 2 - c.colourSigmaPx ** 2;
  return {
    noiseFloorPx: rms((c) => 2 * c.sigmaPx ** 2),
    statedNoiseFloorPx: rms((c) => 2 * (fromUv(c) / factors.uv ** 2 + (c.colourSigmaPx / factors.colour) ** 2)),
  };
}

function residualRms(
  frames: readonly BenchFrame[],
  solution: BundleSolution,
): { uvRmsPx: number; colourRmsPx: number } {
  const sums = { uv: 0, colour: 0 };
  const counts = { uv: 0, colour: 0 };
  eachObservation(frames, (_, __, camera, index) => {
    sums[camera] += solution.residualsPx[2 * index] ** 2 + solution.residualsPx[2 * index + 1] ** 2;
    counts[camera]++;
  });
  return {
    uvRmsPx: Math.sqrt(sums.uv / Math.max(1, counts.uv)),
    colourRmsPx: Math.sqrt(sums.colour / Math.max(1, counts.colour)),
  };
}

function bySweep(
  run: BenchRun,
  correspondences: readonly Correspondence[],
  ladder: Ladder,
): ResidualStatistics['bySweep'] {
  return run.sweeps.map((sweep, index) => {
    let sum = 0;
    let count = 0;
    correspondences.forEach((c, i) => {
      if (c.frame.sweep !== index || Number.isNaN(ladder.heldOutPx[2 * i])) return;
      sum += ladder.heldOutPx[2 * i] ** 2 + ladder.heldOutPx[2 * i + 1] ** 2;
      count++;
    });
    return { name: sweep.name, heldOutRmsPx: Math.sqrt(sum / Math.max(1, count)), correspondences: count };
  });
}

/**
 * A hundredth or two of a pixel by which shading and compression shift all disc centres of the colour image alike: no
 * residual shows it, and no number of frames averages it out. It acts on the mapping as an error of the colour principal point.
 */
const COMMON_SHIFT_PX = 0.02;

/**
 * The covariance of the fit, widened where held-out sweeps fare worse than their own noise explains, never narrowed, with
 * the common shift of the finders added.
 */
function scaledCovariance(solution: BundleSolution, heldOutOverNoise: number): Float64Array {
  const n = TWO_CAMERA_PARAMETER_COUNT;
  const k = Math.max(1, heldOutOverNoise) ** 2;
  const covariance = Float64Array.from(
    { length: n * n },
    (_, i) => k * solution.covariance.get(Math.floor(i / n), i % n),
  );
  for (const centre of [11, 12]) covariance[centre * (n + 1)] += COMMON_SHIFT_PX ** 2;
  return covariance;
}

/** Standard deviation of the mapping at a pixel and range, both axes together, px; null where there is none. */
export function mappingSigmaPx(
  registration: Registration,
  u: number,
  v: number,
  inverseRangePerM: number,
): number | null {
  const mapped = colourFromUv(registration, uvPx(u, v), inverseRangePerM);
  return mapped.kind === 'mapped' ? Math.sqrt(mapped.covariancePx2[0] + mapped.covariancePx2[3]) : null;
}
