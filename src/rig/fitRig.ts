import { projectPoint } from '../camera/projectPoint.ts';
import { compose, type RigidTransform, transformPoint } from '../maths/rigidTransform.ts';
import { norm } from '../maths/vec3.ts';
import type { RigDescription } from '../recording/RigDescription.ts';
import type { BenchFrame, BenchRun } from './BenchObservations.ts';
import type { BundleSolution } from './bundle.ts';
import type { Correspondence } from './Correspondence.ts';
import { colourPxFromUv } from './colourFromUv.ts';
import { discCentreBias } from './discCentreBias.ts';
import { type MarkOffset, markOffsets } from './markOffsets.ts';
import type { TwoCameraModel } from './Registration.ts';
import { seenFrom } from './resectCamera.ts';
import {
  adjustRig,
  attitudeFrom,
  patternPose,
  type RigState,
  type SigmaFactors,
  startFromRig,
  startPoses,
  tellsAttitude,
} from './rigBundle.ts';
import { settleTilts } from './settleTilts.ts';
import { nearlyOnALine } from './weaknesses.ts';

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

export interface RefusedFit {
  readonly kind: 'refused';
  readonly because: string;
  /** What to record to cure it. */
  readonly record: string;
  readonly leftOut: readonly LeftOutFrame[];
}

/** Both cameras and all poses, adjusted; nothing held out yet. */
export interface RigFit {
  readonly kind: 'fitted';
  readonly frames: readonly BenchFrame[];
  readonly poses: ReadonlyMap<BenchFrame, RigidTransform>;
  readonly state: RigState;
  readonly factors: SigmaFactors;
  readonly model: TwoCameraModel;
  readonly solution: BundleSolution;
  readonly offsets: readonly MarkOffset[];
  readonly correspondences: readonly Correspondence[];
  readonly outliers: readonly Outlier[];
  readonly leftOut: readonly LeftOutFrame[];
}
export type RigFitOutcome = RigFit | RefusedFit;

/** With more of them than this share it is the run that is wrong, not the marks. */
const MOST_OUTLIERS = 0.2;
/** Two lenses and their relative pose are not to be had from fewer poses of a board. Ours. */
const LEAST_PLACES = 8;
/** Points of a pattern that place it: four make a homography, twice as many tell a wrong one. */
const LEAST_PATTERN = 8;
/** A mark is called an outlier from here on; one good mark in 3 million lies so far out (Rayleigh law). */
const OUTLIER_SIGMAS = 5.5;

/**
 * From marks seen in both streams to both cameras: adjustment with robust loss, outliers removed by name, standard
 * deviations of the finders corrected from the residuals of each stream.
 */
export function fitRig(rig: RigDescription, run: BenchRun): RigFitOutcome {
  const leftOut: LeftOutFrame[] = [];
  let usable = usableFrames(run, leftOut);
  if (attitudeFrom(run) === 'lamps' && nearlyOnALine(run.marks.filter((m) => m.sees !== 'visible')))
    return {
      ...refused('the marks of the target lie nearly on one line, which hides how it is turned', leftOut),
      record: 'Use a board whose marks spread in both directions.',
    };
  if (usable.length < LEAST_PLACES)
    return refused(
      `${usable.length} instants with the target in both images, at least ${LEAST_PLACES} needed`,
      leftOut,
    );
  const places = countPlaces(usable, rig.cameras.uv.widthPx);
  if (places < LEAST_PLACES)
    return refused(
      `the target was hardly moved: ${usable.length} instants at ${places} ${places === 1 ? 'place' : 'places'}, at least ${LEAST_PLACES} places needed`,
      leftOut,
    );

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
  const seen = run.frames.reduce((n, f) => n + f.marks.reduce((k, m) => k + (m.uv ? 1 : 0) + (m.colour ? 1 : 0), 0), 0);
  if (outliers.length > MOST_OUTLIERS * seen)
    return {
      ...refused(
        `${outliers.length} of ${seen} marks contradict any mapping: the stamps of the streams do not belong together, or the target is not as described`,
        leftOut,
      ),
      record: "Check the cameras' clocks and the target's coordinates in bench.json; then record the run again.",
    };
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
  return {
    kind: 'fitted',
    frames: usable,
    poses,
    state,
    factors,
    model,
    solution,
    offsets: markOffsets(run, solution),
    correspondences: correspondencesOf(run, usable, poses, state, factors),
    outliers,
    leftOut,
  };
}

const refused = (because: string, leftOut: readonly LeftOutFrame[]): RefusedFit => ({
  kind: 'refused',
  because,
  record:
    'Record at least two sweeps of fifty instants at different ranges, the target carried through the whole of both images and turned a little.',
  leftOut,
});

/** Places in the ultraviolet image, sweep by sweep, that lie further apart than a fiftieth of its width. */
function countPlaces(frames: readonly BenchFrame[], widthPx: number): number {
  const places: [sweep: number, u: number, v: number][] = [];
  for (const { sweep, marks } of frames) {
    const seen = marks.flatMap((m) => (m.uv ? [m.uv] : []));
    const u = seen.reduce((sum, m) => sum + m.u, 0) / seen.length;
    const v = seen.reduce((sum, m) => sum + m.v, 0) / seen.length;
    if (places.every(([s, pu, pv]) => s !== sweep || Math.hypot(u - pu, v - pv) > widthPx / 50))
      places.push([sweep, u, v]);
    if (places.length >= LEAST_PLACES) break;
  }
  return places.length;
}

function usableFrames(run: BenchRun, leftOut: LeftOutFrame[]): BenchFrame[] {
  const from = attitudeFrom(run);
  const least = from === 'lamps' ? 4 : 1;
  const hasPattern = run.marks.some((m) => m.sees === 'visible');
  return run.frames.filter((f) => {
    const uv = f.marks.filter((m) => m.uv).length;
    if (hasPattern) {
      const visible = f.marks.filter((m) => m.colour).length;
      if (uv >= least && visible >= LEAST_PATTERN) return true;
      leftOut.push({
        frame: f.name,
        because: `${uv} lamps and ${visible} points of the pattern seen, ${least} and ${LEAST_PATTERN} needed`,
      });
      return false;
    }
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
export function eachObservation(
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
  const least = attitudeFrom(run) === 'lamps' ? 4 : 1;
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

/** From the centroid seen of a disc to the place of its lamp, colour px: the offset on the target, and the disc's perspective bias. */
function lampFromDisc(
  run: BenchRun,
  mark: number,
  colourPose: RigidTransform,
  state: RigState,
): readonly [number, number] | null {
  const lampPx = projectPoint(transformPoint(colourPose, state.targetPointsM[mark]), state.colour);
  const discPx = projectPoint(transformPoint(colourPose, state.targetPointsM[run.marks.length + mark]), state.colour);
  if (!lampPx || !discPx) return null;
  const bias = discCentreBias(run.marks[mark].discM, run.marks[mark].discDiameterM, colourPose, state.colour);
  return [lampPx[0] - discPx[0] - bias[0], lampPx[1] - discPx[1] - bias[1]];
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
  const hasLampsAlone = run.marks.some((m) => m.sees === 'lamp');
  for (const frame of frames) {
    const pose = poses.get(frame)!;
    const colourPose = compose(state.colourFromUv, pose);
    const pattern = hasLampsAlone && frame.marks.some((m) => m.uv) ? patternPose(run, frame, pose, state) : null;
    for (const { mark, uv, colour: disc } of frame.marks) {
      if (!uv) continue;
      // A lamp beside a pattern: its place in the colour image is where the pattern's own pose shows it.
      const colour =
        run.marks[mark].sees === 'lamp' ? pattern && seenFrom(pattern, state.targetPointsM[mark], state.colour) : disc;
      if (!colour) continue;
      const lamp = transformPoint(pose, state.targetPointsM[mark]);
      const move = run.marks[mark].sees === 'lamp' ? ([0, 0] as const) : lampFromDisc(run, mark, colourPose, state);
      if (!move) continue;
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
        colour: [colour.u + move[0], colour.v + move[1]],
        uvSigmaPx,
        colourSigmaPx,
        sigmaPx: Math.hypot(scale * uvSigmaPx, colourSigmaPx),
        inverseRangePerM,
      });
    }
  }
  return out;
}
