import type { Lens } from '../camera/Lens.ts';
import { undistort } from '../camera/rayFromPixel.ts';
import { IDENTITY3 } from '../maths/mat3.ts';
import { compose, inverse, type RigidTransform } from '../maths/rigidTransform.ts';
import { huber, type RobustLoss } from '../maths/robustLoss.ts';
import { dot, norm, scale, subtract, type Vec3 } from '../maths/vec3.ts';
import type { RigDescription } from '../recording/RigDescription.ts';
import type { BenchFrame, BenchRun } from './BenchObservations.ts';
import {
  adjustBundle,
  type BundleFrame,
  type BundleObservation,
  type BundleOutcome,
  type BundleRail,
  type SharedPrior,
} from './bundle.ts';
import { discCentreBias } from './discCentreBias.ts';
import { nominalLens, UNKNOWN_LENS } from './nominalRegistration.ts';
import { planePose } from './planePose.ts';
import { type CameraPose, resectCamera } from './resectCamera.ts';
import { straightMotion } from './straightMotion.ts';

/** What the adjustment starts from, and what a resection holds. */
export interface RigState {
  readonly uv: Lens;
  readonly colour: Lens;
  readonly colourFromUv: RigidTransform;
  /** Lamps of all marks, then discs of all marks, target frame. */
  readonly targetPointsM: readonly Vec3[];
}

/** Factors on the standard deviations that the finders state, from the residuals. */
export interface SigmaFactors {
  readonly uv: number;
  readonly colour: number;
}

/** Residuals above 2.5 standard deviations lose influence: 4 % of good points, which costs hardly any accuracy. */
export const BENCH_LOSS: RobustLoss = huber(2.5);

/**
 * A target of fewer than four marks does not tell its own attitude: it is then taken to face the rig, upright, within
 * this standard deviation, as a person holds it; and its sweep's range to hold over the whole sweep within a tenth.
 */
const FACING_SIGMA_RAD = 0.2;
const SWEEP_RANGE_SHARE = 0.1;

/** What tells how the target is turned: its lamps by themselves, the points of its pattern, or nothing. */
export function attitudeFrom(run: Pick<BenchRun, 'marks'>): 'lamps' | 'pattern' | 'nothing' {
  const lamps = run.marks.filter((m) => m.sees !== 'visible').length;
  if (lamps >= 4) return 'lamps';
  return run.marks.length - lamps >= 4 ? 'pattern' : 'nothing';
}
export const tellsAttitude = (run: Pick<BenchRun, 'marks'>): boolean => attitudeFrom(run) !== 'nothing';

export function startFromRig(rig: RigDescription, run: BenchRun): RigState {
  return {
    uv: nominalLens(rig.cameras.uv),
    colour: nominalLens(rig.cameras.colour),
    colourFromUv: { rotation: IDENTITY3, translation: scale(rig.pair.colourInUvM, -1) },
    targetPointsM: [...run.marks.map((m) => m.lampM), ...run.marks.map((m) => m.discM)],
  };
}

/** What `rig.json` knows of the lenses, and what any lens of this kind does, as observations. */
export function lensPriors(rig: RigDescription): SharedPrior[] {
  return [rig.cameras.uv, rig.cameras.colour].flatMap((camera, index) => {
    const at = 9 * index;
    const focalPx = (1000 * camera.focalMm) / camera.pixelPitchUm;
    const middle = [(camera.widthPx - 1) / 2, (camera.heightPx - 1) / 2];
    const centreSigma = 2 * UNKNOWN_LENS.principalPointShare * camera.widthPx;
    return [
      {
        terms: [
          [at, 0.5],
          [at + 1, 0.5],
        ],
        value: focalPx,
        sigma: (1000 * camera.focalSigmaMm) / camera.pixelPitchUm,
      },
      {
        terms: [
          [at, 1],
          [at + 1, -1],
        ],
        value: 0,
        sigma: 0.005 * focalPx,
      },
      { terms: [[at + 2, 1]], value: middle[0], sigma: centreSigma },
      { terms: [[at + 3, 1]], value: middle[1], sigma: centreSigma },
      // Weaker than a nominal lens by five, so that the data speak wherever they can.
      ...UNKNOWN_LENS.distortion.map(
        (sigma, i): SharedPrior => ({ terms: [[at + 4 + i, 1]], value: 0, sigma: 5 * sigma }),
      ),
    ] satisfies SharedPrior[];
  });
}

/** A pose for every frame to start from; frames in which there is none are left out. */
export function startPoses(run: BenchRun, state: RigState): Map<BenchFrame, RigidTransform> {
  const poses = new Map<BenchFrame, RigidTransform>();
  for (const frame of run.frames) {
    const seen = frame.marks.filter((m) => m.uv !== null);
    if (seen.length === 0) continue;
    const visible = attitudeFrom(run) === 'pattern' ? frame.marks.filter((m) => m.colour !== null) : [];
    if (visible.length >= 4) {
      const pose = planePose(
        visible.map((m) => state.targetPointsM[run.marks.length + m.mark]),
        visible.map((m) => [m.colour!.u, m.colour!.v] as const),
        state.colour,
      );
      if (pose) {
        poses.set(frame, compose(inverse(state.colourFromUv), pose));
        continue;
      }
    }
    if (attitudeFrom(run) === 'lamps' && seen.length >= 4) {
      const pose = planePose(
        seen.map((m) => state.targetPointsM[m.mark]),
        seen.map((m) => [m.uv!.u, m.uv!.v] as const),
        state.uv,
      );
      if (pose) {
        poses.set(frame, pose);
        continue;
      }
    }
    const rangeM = run.sweeps[frame.sweep].rangeM;
    let x = 0;
    let y = 0;
    for (const m of seen) {
      const xy = undistort([m.uv!.u, m.uv!.v], state.uv);
      if (!xy) continue;
      x += (xy[0] * rangeM - run.marks[m.mark].lampM[0]) / seen.length;
      y += (xy[1] * rangeM - run.marks[m.mark].lampM[1]) / seen.length;
    }
    poses.set(frame, { rotation: IDENTITY3, translation: [x, y, rangeM] });
  }
  return poses;
}

/**
 * The depth of each sweep's frame nearest to its middle, from the range that was measured at the middle itself: carried
 * over the time between by the motion of the poses.
 */
function measuredDepths(
  run: BenchRun,
  poses: ReadonlyMap<BenchFrame, RigidTransform>,
): Map<BenchFrame, { valueM: number; sigmaM: number }> {
  const depths = new Map<BenchFrame, { valueM: number; sigmaM: number }>();
  run.sweeps.forEach((sweep, index) => {
    const middleNs = (sweep.fromNs + sweep.toNs) / 2;
    const nearest = [...poses.keys()]
      .filter((f) => f.sweep === index)
      .sort((a, b) => Math.abs(a.tNs - middleNs) - Math.abs(b.tNs - middleNs));
    if (nearest.length === 0) return;
    const frame = nearest[0];
    // The neighbour on the other side of the middle, or the next best, gives the speed.
    const other = nearest.find((f) => f !== frame && Math.sign(f.tNs - middleNs) !== Math.sign(frame.tNs - middleNs));
    const away = frame.tNs - middleNs;
    const speed = other
      ? (poses.get(frame)!.translation[2] - poses.get(other)!.translation[2]) / (frame.tNs - other.tNs)
      : 0;
    depths.set(frame, { valueM: sweep.rangeM + speed * away, sigmaM: Math.hypot(sweep.rangeSigmaM, speed * away) });
  });
  return depths;
}

/** Frames of a bench run as observations of a bundle, the perspective bias of the discs taken off. */
export function bundleFrames(
  run: BenchRun,
  frames: readonly BenchFrame[],
  poses: ReadonlyMap<BenchFrame, RigidTransform>,
  state: RigState,
  factors: SigmaFactors,
  cameras: 'both' | 'uv alone',
): BundleFrame[] {
  const depths = measuredDepths(run, poses);
  return frames.map((frame) => {
    const pose = poses.get(frame)!;
    const observations: BundleObservation[] = [];
    for (const { mark, uv, colour } of frame.marks) {
      if (uv) observations.push({ camera: 0, point: mark, u: uv.u, v: uv.v, sigmaPx: uv.sigmaPx * factors.uv });
      if (colour && cameras === 'both') {
        const { discM, discDiameterM } = run.marks[mark];
        const bias = discCentreBias(discM, discDiameterM, compose(state.colourFromUv, pose), state.colour);
        observations.push({
          camera: 1,
          point: run.marks.length + mark,
          u: colour.u - bias[0],
          v: colour.v - bias[1],
          sigmaPx: colour.sigmaPx * factors.colour,
        });
      }
    }
    const sweep = run.sweeps[frame.sweep];
    const few = !tellsAttitude(run);
    return {
      camFromTarget: pose,
      observations,
      depth: few
        ? { valueM: sweep.rangeM, sigmaM: Math.hypot(sweep.rangeSigmaM, SWEEP_RANGE_SHARE * sweep.rangeM) }
        : depths.get(frame),
      attitude: few ? { rotation: IDENTITY3, sigmaRad: FACING_SIGMA_RAD } : undefined,
    };
  });
}

/** The rails of a run, over the frames given; three frames make none. */
function railsOf(run: BenchRun, frames: readonly BenchFrame[]): BundleRail[] {
  return run.sweeps.flatMap((sweep, index): BundleRail[] => {
    const on = frames.flatMap((f, i) => (f.sweep === index ? [i] : []));
    if (!sweep.rail || on.length < 4) return [];
    const middleNs = (sweep.fromNs + sweep.toNs) / 2;
    return [{ ...sweep.rail, frames: on, timesS: on.map((i) => (frames[i].tNs - middleNs) * 1e-9) }];
  });
}

/** How far the target strayed from the even motion of its rail. */
export interface RailMotion {
  readonly sweep: string;
  readonly statedMps: number;
  readonly speedMps: number;
  /** Root mean square along the rail, and across it. */
  readonly alongRmsMm: number;
  readonly acrossRmsMm: number;
  readonly frames: number;
}

export function railMotions(
  run: BenchRun,
  frames: readonly BenchFrame[],
  poses: ReadonlyMap<BenchFrame, RigidTransform>,
): RailMotion[] {
  return railsOf(run, frames).map((rail) => {
    const places = rail.frames.map((i) => poses.get(frames[i])!.translation);
    const { atM, velocityMps } = straightMotion(rail.timesS, places);
    const speedMps = norm(velocityMps);
    const direction = scale(velocityMps, 1 / Math.max(speedMps, 1e-12));
    let along = 0;
    let across = 0;
    places.forEach((place, i) => {
      const off = subtract(subtract(place, atM), scale(velocityMps, rail.timesS[i]));
      const l = dot(off, direction);
      along += l * l;
      across += Math.max(0, dot(off, off) - l * l);
    });
    return {
      sweep: run.sweeps[frames[rail.frames[0]].sweep].name,
      statedMps: rail.speedMps,
      speedMps,
      alongRmsMm: 1000 * Math.sqrt(along / places.length),
      acrossRmsMm: 1000 * Math.sqrt(across / places.length),
      frames: places.length,
    };
  });
}

/** How far lamps that are to be found from the run alone may lie from where they are stated, m. */
const UNKNOWN_LAMP_SIGMA_M = 0.1;

/** Of every lamp, then of every disc: 0 for what is held as stated, among it all that no camera sees. */
export const pointSigmas = (run: Pick<BenchRun, 'marks' | 'offsets' | 'targetSigmaM'>): number[] => [
  ...run.marks.map((m) =>
    m.sees === 'visible' || run.offsets === 'stated'
      ? 0
      : run.offsets === 'estimated'
        ? UNKNOWN_LAMP_SIGMA_M
        : run.targetSigmaM,
  ),
  ...run.marks.map((m) => (m.sees !== undefined || run.offsets === 'stated' ? 0 : run.targetSigmaM)),
];

/** The full adjustment over the given frames; with `isFirstRound` it may stop short of the minimum. */
export function adjustRig(
  rig: RigDescription,
  run: BenchRun,
  frames: readonly BenchFrame[],
  poses: ReadonlyMap<BenchFrame, RigidTransform>,
  state: RigState,
  factors: SigmaFactors,
  isFirstRound = false,
): BundleOutcome {
  return adjustBundle({
    lenses: [state.uv, state.colour],
    secondFromFirst: state.colourFromUv,
    targetPointsM: startFromRig(rig, run).targetPointsM,
    targetSigmaM: run.targetSigmaM,
    startTargetPointsM: state.targetPointsM,
    pointSigmasM: pointSigmas(run),
    frames: bundleFrames(run, frames, poses, state, factors, 'both'),
    priors: lensPriors(rig),
    pairPrior: {
      secondInFirstM: rig.pair.colourInUvM,
      sigmaM: rig.pair.sigmaM,
      rotationSigmaRad: (rig.pair.rotationSigmaDeg * Math.PI) / 180,
    },
    rails: railsOf(run, frames),
    loss: BENCH_LOSS,
    maxIterations: isFirstRound ? 30 : 100,
    acceptUnfinished: isFirstRound,
  });
}

/**
 * Poses of the target from one image alone, the rig held: what a mapping may know of the range of a frame it has
 * not been fitted to. From the lamps in the uv image; where they are too few, from the pattern in the colour image. Null for
 * the run where they cannot be found.
 */
export function resectFrames(
  run: BenchRun,
  frames: readonly BenchFrame[],
  poses: ReadonlyMap<BenchFrame, RigidTransform>,
  state: RigState,
  factors: SigmaFactors,
): readonly RigidTransform[] | null {
  if (attitudeFrom(run) === 'pattern') {
    const seen = frames.map((frame) => patternPose(run, frame, poses.get(frame)!, state));
    return seen.every((pose) => pose !== null) ? seen.map((p) => compose(inverse(state.colourFromUv), p.pose)) : null;
  }
  const outcome = adjustBundle({
    lenses: [state.uv],
    targetPointsM: state.targetPointsM,
    targetSigmaM: 0,
    frames: bundleFrames(run, frames, poses, state, factors, 'uv alone'),
    fixed: Array.from({ length: 9 }, (_, i) => i),
    loss: BENCH_LOSS,
    maxIterations: 100,
  });
  return outcome.kind === 'solved' ? outcome.camFromTarget : null;
}

/** Where the pattern stands before the colour camera as it alone tells; null where too little of it was seen. */
export function patternPose(
  run: BenchRun,
  frame: BenchFrame,
  uvFromTarget: RigidTransform,
  state: RigState,
): CameraPose | null {
  const visible = frame.marks.filter((m) => m.colour !== null);
  return resectCamera(
    visible.map((m) => state.targetPointsM[run.marks.length + m.mark]),
    visible.map((m) => m.colour!),
    state.colour,
    compose(state.colourFromUv, uvFromTarget),
  );
}
