import type { RigidTransform } from '../maths/rigidTransform.ts';
import { cross, dot, scale, subtract, unit, type Vec3 } from '../maths/vec3.ts';
import type { BenchFrame, BenchRun } from './BenchObservations.ts';
import { adjustBundle } from './bundle.ts';
import { BENCH_LOSS, bundleFrames, type RigState, type SigmaFactors, tellsAttitude } from './rigBundle.ts';

/**
 * A distant flat target looks nearly the same tilted towards the camera and away from it, and an adjustment that began
 * with the wrong one of the two stays there. So each frame's pose is fitted from both starts, the rig held, and the one
 * that fits better is kept.
 * Source of the ambiguity: Schweighofer & Pinz, IEEE PAMI 28 (2006) 2024 (from memory).
 */
export function settleTilts(
  run: BenchRun,
  frames: readonly BenchFrame[],
  poses: ReadonlyMap<BenchFrame, RigidTransform>,
  state: RigState,
  factors: SigmaFactors,
): Map<BenchFrame, RigidTransform> {
  if (!tellsAttitude(run)) return new Map(poses);
  const as = fitted(run, frames, poses, state, factors);
  const mirrored = new Map(frames.map((f) => [f, mirroredTilt(poses.get(f)!)]));
  const other = fitted(run, frames, mirrored, state, factors);
  return new Map(
    frames.map((f, i) => {
      const here = as?.[i];
      const there = other?.[i];
      if (here && there) return [f, there.cost < here.cost ? there.pose : here.pose];
      return [f, here?.pose ?? poses.get(f)!];
    }),
  );
}

/** The pose whose in-plane axes keep their directions across the line of sight and turn round along it. */
export function mirroredTilt(camFromTarget: RigidTransform): RigidTransform {
  const sight = unit(camFromTarget.translation);
  const r = camFromTarget.rotation;
  const mirror = (a: Vec3): Vec3 => subtract(a, scale(sight, 2 * dot(a, sight)));
  const x = mirror([r[0], r[3], r[6]]);
  const y = mirror([r[1], r[4], r[7]]);
  const z = cross(x, y);
  return { rotation: [x[0], y[0], z[0], x[1], y[1], z[1], x[2], y[2], z[2]], translation: camFromTarget.translation };
}

function fitted(
  run: BenchRun,
  frames: readonly BenchFrame[],
  poses: ReadonlyMap<BenchFrame, RigidTransform>,
  state: RigState,
  factors: SigmaFactors,
): { pose: RigidTransform; cost: number }[] | null {
  const asBundle = bundleFrames(run, frames, poses, state, factors, 'both');
  const outcome = adjustBundle({
    lenses: [state.uv, state.colour],
    secondFromFirst: state.colourFromUv,
    targetPointsM: state.targetPointsM,
    targetSigmaM: 0,
    frames: asBundle,
    fixed: Array.from({ length: 24 }, (_, i) => i),
    loss: BENCH_LOSS,
    maxIterations: 25,
    acceptUnfinished: true,
  });
  if (outcome.kind === 'refused') return null;
  let at = 0;
  return asBundle.map((frame, i) => {
    let cost = 0;
    for (const o of frame.observations) {
      const [du, dv] = [outcome.residualsPx[2 * at], outcome.residualsPx[2 * at + 1]];
      cost += BENCH_LOSS.rho((du * du + dv * dv) / o.sigmaPx ** 2);
      at++;
    }
    return { pose: outcome.camFromTarget[i], cost };
  });
}
