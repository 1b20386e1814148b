import type { SearchCorridor } from './EventRays.ts';
import { framesOf } from './framesOf.ts';
import { fitFlux, refinePoint, type SourceFit } from './pointSource.ts';
import { distanceFromCorridorM } from './rangesInCorridor.ts';
import type { SearchScene } from './SearchScene.ts';
import type { Suspicion } from './Sighting.ts';
import { isNearSun, type SunAt } from './sunNearView.ts';

/** Fewer frames than this with an event of the source say too little of a place. */
const LEAST_FRAMES = 4;
/** Gain in ln likelihood that a moving point must bring over one at rest, for its two free components of velocity. */
const MOTION_GAIN = 15;
/** Slower than this is within what attitude and position errors of a pass can feign, m/s. */
const LEAST_SPEED_MPS = 0.3;
/** A source that lights up for less than this share of its pass is a glint where the sun shines. */
const GLINT_SHARE = 0.2;
const GLINT_LEAST_EVENTS = 8;

/**
 * Why a source that crosses in space may still not be a discharge at rest on the line.
 * @param background density at each event of all but this source, per px² and frame
 */
export function suspicionsOf(
  source: SourceFit,
  scene: SearchScene,
  corridor: SearchCorridor,
  background: Float64Array,
  sunAt: SunAt | undefined,
): Suspicion[] {
  const suspicions: Suspicion[] = [];
  const { byPose, poses, events, frames, mostInTwo } = framesOf(source, scene);
  if (mostInTwo > 0.7 * events) suspicions.push('single bright flash');
  else if (frames < LEAST_FRAMES) suspicions.push('too few frames');
  if (corridor.segments.length > 0 && distanceFromCorridorM(source.pointEnuM, corridor) > corridor.radiusM)
    suspicions.push('off the line');
  const sunShines = sunAt !== undefined && sunAt(scene.tNs[source.fromPose]) !== null;
  if (sunShines && events >= GLINT_LEAST_EVENTS && shareOfPass(source, byPose, poses, events) < GLINT_SHARE)
    suspicions.push('sun glint');
  if (sunAt && isNearSun(source, scene, sunAt)) suspicions.push('sun near the view');
  // A source at rest that fits as a point, with many events, has no room for motion; the search would be long.
  if (source.event.length < 600 || source.spread > 1.15) {
    const motion = bestMotion(source, scene, background);
    if (motion.gain > MOTION_GAIN && motion.speedMps > LEAST_SPEED_MPS) suspicions.push('moves in space');
  }
  return suspicions;
}

/** Share of the pass that holds the middle nine tenths of the events. */
function shareOfPass(
  source: SourceFit,
  byPose: ReadonlyMap<number, number>,
  poses: readonly number[],
  events: number,
): number {
  let sum = 0;
  let from = poses[0];
  let to = poses[poses.length - 1];
  for (const p of poses) {
    const next = sum + (byPose.get(p) ?? 0);
    if (sum < 0.05 * events && next >= 0.05 * events) from = p;
    if (sum < 0.95 * events && next >= 0.95 * events) to = p;
    sum = next;
  }
  return (to - from + 1) / Math.max(1, source.framesInView);
}

/**
 * The constant velocity across the platform's own that explains the events best. Along the platform's velocity a moving
 * point cannot be told from one at rest at another range, so that component is left out.
 */
function bestMotion(
  source: SourceFit,
  scene: SearchScene,
  background: Float64Array,
): { gain: number; speedMps: number } {
  const { fromPose, toPose } = source;
  const seconds = (scene.tNs[toPose] - scene.tNs[fromPose]) / 1e9;
  if (!(seconds > 0)) return { gain: 0, speedMps: 0 };
  const middle = source.event.length > 0 ? scene.pose[source.event[source.event.length >> 1]] : fromPose;
  const flown = [0, 1, 2].map((c) => scene.originEnuM[3 * toPose + c] - scene.originEnuM[3 * fromPose + c]);
  const [across, up] = planeAcross(flown);
  // Rough places near a pass lead no farther than twice its length; the rest of the flight need not be moved along.
  const length = toPose - fromPose + 1;
  const around = [Math.max(0, fromPose - length), Math.min(scene.poseCount - 1, toPose + length)] as const;
  const originEnuM = Float64Array.from(scene.originEnuM);
  const moving = { ...scene, originEnuM };
  const ratioAt = (a: number, b: number): number => {
    const velocity = [0, 1, 2].map((c) => a * across[c] + b * up[c]);
    moveWith(originEnuM, scene, velocity, middle, around);
    return refinePoint(moving, background, source.pointEnuM, middle, source.spread, Math.hypot(a, b) > 0)
      .logLikelihoodRatio;
  };
  const atRest = Math.max(
    ratioAt(0, 0),
    fitFlux(scene, background, source.pointEnuM, source, source.spread).logLikelihoodRatio,
  );
  let best = { a: 0, b: 0, ratio: atRest };
  for (const speed of [0.5, 1.5, 4, 9])
    for (let i = 0; i < 8; i++) {
      const a = speed * Math.cos((i * Math.PI) / 4);
      const b = speed * Math.sin((i * Math.PI) / 4);
      const ratio = ratioAt(a, b);
      if (ratio > best.ratio + 1e-9) best = { a, b, ratio };
    }
  for (let step = Math.max(0.3, Math.hypot(best.a, best.b) / 3); step > 0.1; step /= 2) {
    for (const [da, db] of [
      [step, 0],
      [-step, 0],
      [0, step],
      [0, -step],
    ]) {
      const ratio = ratioAt(best.a + da, best.b + db);
      if (ratio > best.ratio + 1e-9) best = { a: best.a + da, b: best.b + db, ratio };
    }
  }
  return { gain: best.ratio - atRest, speedMps: Math.hypot(best.a, best.b) };
}

/** Two unit vectors across a direction, the first level where it can be; east and north for a camera at rest. */
function planeAcross(direction: readonly number[]): [number[], number[]] {
  const length = Math.hypot(...direction);
  if (length < 0.1)
    return [
      [1, 0, 0],
      [0, 1, 0],
    ];
  const [x, y, z] = direction.map((d) => d / length);
  const level = Math.hypot(x, y);
  if (level < 1e-3)
    return [
      [1, 0, 0],
      [0, 1, 0],
    ];
  const across = [-y / level, x / level, 0];
  return [across, [-z * across[1], z * across[0], x * across[1] - y * across[0]]];
}

/**
 * Writes the camera's way as seen from a frame that moves with the point: a point at rest there moves with `velocity` here.
 * For the poses `around` alone.
 */
function moveWith(
  out: Float64Array,
  scene: SearchScene,
  velocity: readonly number[],
  restPose: number,
  around: readonly [from: number, to: number],
): void {
  for (let p = around[0]; p <= around[1]; p++) {
    const seconds = (scene.tNs[p] - scene.tNs[restPose]) / 1e9;
    for (let c = 0; c < 3; c++) out[3 * p + c] = scene.originEnuM[3 * p + c] - velocity[c] * seconds;
  }
}
