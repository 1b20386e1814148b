import { uvPx } from '../camera/pixel.ts';
import { projectPoint } from '../camera/projectPoint.ts';
import { compose, type RigidTransform, transformPoint } from '../maths/rigidTransform.ts';
import { norm } from '../maths/vec3.ts';
import type { RigDescription } from '../recording/RigDescription.ts';
import type { BenchFrame, BenchRun } from './BenchObservations.ts';
import type { BundleSolution } from './bundle.ts';
import type { Correspondence } from './Correspondence.ts';
import { colourFromUv, colourPxFromUv } from './colourFromUv.ts';
import { discCentreBias } from './discCentreBias.ts';
import { climbLadder, type Ladder } from './ladder.ts';
import { type Registration, TWO_CAMERA_PARAMETER_COUNT, type TwoCameraModel } from './Registration.ts';
import { adjustRig, type RigState, type SigmaFactors, startFromRig, startPoses, tellsAttitude } from './rigBundle.ts';
import { settleTilts } from './settleTilts.ts';
import { convexHull } from './support.ts';
import { type Weakness, weaknesses } from './weaknesses.ts';

/** A mark seen where the fit says that it can not have been. */
export interface Outlier {
  readonly frame: string;
  readonly mark: string;
  readonly camera: 'uv' | 'colour';
  readonly residualPx: number;
  readonly sigmas: number;
}

export interface LeftOutFrame {
  readonly frame: string;
  readonly because: string;
}

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
}

export type RigCalibrationOutcome =
  | RigCalibration
  | {
      readonly kind: 'refused';
      readonly because: string;
      readonly record: string;
      readonly leftOut: readonly LeftOutFrame[];
    };

/** A mark is called an outlier from here on; one good mark in 3 million lies so far out (Rayleigh law). */
const OUTLIER_SIGMAS = 5.5;

/**
 * From marks seen in both streams to a registration: adjustment of both cameras with robust loss, outliers removed by
 * name, standard deviations of the finders corrected from the residuals of each stream, the ladder of models on
 * held-out sweeps, and the covariance scaled by the held-out error where that exceeds the noise.
 */
export function calibrateRig(rig: RigDescription, run: BenchRun): RigCalibrationOutcome {
  const leftOut: LeftOutFrame[] = [];
  let usable = usableFrames(run, leftOut);
  if (usable.length < 8)
    return refused(`${usable.length} instants with the target in both images, at least 8 needed`, leftOut);

  let state = startFromRig(rig, run);
  let poses = startPoses({ ...run, frames: usable }, state);
  let factors: SigmaFactors = { uv: 1, colour: 1 };
  const outliers: Outlier[] = [];
  // Twice for the poses, with the disc bias and the tilts that hang on them; twice for outliers and factors on the sigmas.
  for (let round = 0; round < 4; round++) {
    const outcome = adjustRig(rig, run, usable, poses, state, factors, true);
    if (outcome.kind === 'refused')
      return refused(`the adjustment did not come to an end (${outcome.because})`, leftOut);
    state = {
      uv: outcome.lenses[0],
      colour: outcome.lenses[1],
      colourFromUv: outcome.secondFromFirst!,
      targetPointsM: outcome.targetPointsM,
    };
    poses = new Map(usable.map((f, i) => [f, outcome.camFromTarget[i]]));
    if (round < 2) {
      poses = settleTilts(run, usable, poses, state, factors);
      // Outliers and factors are only told with every pose at its right minimum.
      continue;
    }
    factors = corrected(factors, usable, outcome, tellsAttitude(run));
    const cleaned = withoutOutliers(run, usable, poses, outcome, factors, outliers, leftOut);
    poses = cleaned.poses;
    usable = cleaned.frames;
  }
  const last = adjustRig(rig, run, usable, poses, state, factors);
  if (last.kind === 'refused') return refused(`the adjustment did not come to an end (${last.because})`, leftOut);
  const solution = last;
  poses = new Map(usable.map((f, i) => [f, last.camFromTarget[i]]));
  state = {
    uv: last.lenses[0],
    colour: last.lenses[1],
    colourFromUv: last.secondFromFirst!,
    targetPointsM: last.targetPointsM,
  };
  const model: TwoCameraModel = {
    kind: 'two-camera',
    uv: state.uv,
    colour: state.colour,
    colourFromUv: state.colourFromUv,
    residualField: [],
  };
  const correspondences = correspondencesOf(run, usable, poses, state, factors);
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
  };
}

const refused = (because: string, leftOut: readonly LeftOutFrame[]): RigCalibrationOutcome => ({
  kind: 'refused',
  because,
  record:
    'Record at least two sweeps of fifty instants at different ranges, the target carried through the whole of both images and turned a little.',
  leftOut,
});

function usableFrames(run: BenchRun, leftOut: LeftOutFrame[]): BenchFrame[] {
  const least = tellsAttitude(run) ? 4 : 1;
  return run.frames.filter((f) => {
    const uv = f.marks.filter((m) => m.uv).length;
    const both = f.marks.filter((m) => m.uv && m.colour).length;
    if (uv >= least && both >= Math.min(least, 3)) return true;
    leftOut.push({ frame: f.name, because: `${uv} lamps and ${both} whole marks seen, ${least} needed` });
    return false;
  });
}

/**
 * Each stream's factor from its own weighted residuals. What the parameters absorb is shared by the streams as the
 * information is that they give on the poses: both see the same points, so as (focal length / sigma)² summed.
 */
function corrected(
  factors: SigmaFactors,
  frames: readonly BenchFrame[],
  solution: BundleSolution,
  knowsAttitude: boolean,
): SigmaFactors {
  const sums = { uv: 0, colour: 0 };
  const counts = { uv: 0, colour: 0 };
  const information = { uv: 0, colour: 0 };
  const focalPx = { uv: solution.lenses[0].fxPx, colour: solution.lenses[1].fxPx };
  eachObservation(frames, (_, __, camera, index, seenSigmaPx) => {
    const sigma = seenSigmaPx * factors[camera];
    const squared = (solution.residualsPx[2 * index] ** 2 + solution.residualsPx[2 * index + 1] ** 2) / sigma ** 2;
    // Winsorised at 3.5 sigmas: outliers are still among them.
    sums[camera] += Math.min(squared, 12.25);
    counts[camera] += 2;
    information[camera] += (focalPx[camera] / sigma) ** 2;
  });
  // A mark or two: its place, depth and attitude absorb everything, so the finders' own figures have to stand.
  if (!knowsAttitude) return factors;
  const absorbed = counts.uv + counts.colour - solution.degreesOfFreedom;
  const factor = (camera: 'uv' | 'colour'): number => {
    const redundancy = counts[camera] - (absorbed * information[camera]) / (information.uv + information.colour);
    return redundancy > 0.1 * counts[camera] ? factors[camera] * Math.sqrt(sums[camera] / redundancy) : factors[camera];
  };
  return { uv: factor('uv'), colour: factor('colour') };
}

/** Visits the observations in the order in which `bundleFrames` lists them. */
function eachObservation(
  frames: readonly BenchFrame[],
  visit: (frame: BenchFrame, mark: number, camera: 'uv' | 'colour', index: number, sigmaPx: number) => void,
): void {
  let index = 0;
  for (const frame of frames)
    for (const m of frame.marks) {
      if (m.uv) visit(frame, m.mark, 'uv', index++, m.uv.sigmaPx);
      if (m.colour) visit(frame, m.mark, 'colour', index++, m.colour.sigmaPx);
    }
}

function withoutOutliers(
  run: BenchRun,
  frames: readonly BenchFrame[],
  poses: ReadonlyMap<BenchFrame, RigidTransform>,
  solution: BundleSolution,
  factors: SigmaFactors,
  outliers: Outlier[],
  leftOut: LeftOutFrame[],
): { frames: BenchFrame[]; poses: Map<BenchFrame, RigidTransform> } {
  const bad = new Map<BenchFrame, Set<string>>();
  eachObservation(frames, (frame, mark, camera, index, seenSigmaPx) => {
    const residualPx = Math.hypot(solution.residualsPx[2 * index], solution.residualsPx[2 * index + 1]);
    const sigmas = residualPx / (seenSigmaPx * factors[camera]);
    if (sigmas < OUTLIER_SIGMAS) return;
    outliers.push({ frame: frame.name, mark: run.marks[mark].id, camera, residualPx, sigmas });
    const set = bad.get(frame) ?? new Set();
    bad.set(frame, set.add(`${camera} ${mark}`));
  });
  const cleaned = new Map<BenchFrame, RigidTransform>();
  const least = tellsAttitude(run) ? 4 : 1;
  for (const frame of frames) {
    const marks = bad.get(frame);
    const kept = marks
      ? {
          ...frame,
          marks: frame.marks.map((m) => ({
            ...m,
            uv: marks.has(`uv ${m.mark}`) ? null : m.uv,
            colour: marks.has(`colour ${m.mark}`) ? null : m.colour,
          })),
        }
      : frame;
    if (kept.marks.filter((m) => m.uv).length >= least) cleaned.set(kept, poses.get(frame)!);
    else leftOut.push({ frame: frame.name, because: 'too few marks after removing outliers' });
  }
  return { frames: [...cleaned.keys()], poses: cleaned };
}

function correspondencesOf(
  run: BenchRun,
  frames: readonly BenchFrame[],
  poses: ReadonlyMap<BenchFrame, RigidTransform>,
  state: RigState,
  factors: SigmaFactors,
): Correspondence[] {
  const out: Correspondence[] = [];
  const model: TwoCameraModel = {
    kind: 'two-camera',
    uv: state.uv,
    colour: state.colour,
    colourFromUv: state.colourFromUv,
    residualField: [],
  };
  for (const frame of frames) {
    const pose = poses.get(frame)!;
    const colourPose = compose(state.colourFromUv, pose);
    for (const { mark, uv, colour } of frame.marks) {
      if (!uv || !colour) continue;
      const lamp = transformPoint(pose, state.targetPointsM[mark]);
      const lampPx = projectPoint(transformPoint(state.colourFromUv, lamp), state.colour);
      const discPx = projectPoint(
        transformPoint(colourPose, state.targetPointsM[run.marks.length + mark]),
        state.colour,
      );
      if (!lampPx || !discPx) continue;
      const bias = discCentreBias(run.marks[mark].discM, run.marks[mark].discDiameterM, colourPose, state.colour);
      const inverseRangePerM = 1 / norm(lamp);
      const beside = colourPxFromUv(model, uv.u + 1, uv.v, inverseRangePerM);
      const at = colourPxFromUv(model, uv.u, uv.v, inverseRangePerM);
      if (!beside || !at) continue;
      const scale = Math.hypot(beside[0] - at[0], beside[1] - at[1]);
      const uvSigmaPx = uv.sigmaPx * factors.uv;
      const colourSigmaPx = colour.sigmaPx * factors.colour;
      out.push({
        frame,
        mark,
        uv: [uv.u, uv.v],
        colour: [colour.u - bias[0] + lampPx[0] - discPx[0], colour.v - bias[1] + lampPx[1] - discPx[1]],
        uvSigmaPx,
        colourSigmaPx,
        sigmaPx: Math.hypot(scale * uvSigmaPx, colourSigmaPx),
        inverseRangePerM,
      });
    }
  }
  return out;
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
