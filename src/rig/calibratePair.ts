import type { Lens } from '../camera/Lens.ts';
import { compose, inverse, type RigidTransform } from '../maths/rigidTransform.ts';
import type { RobustLoss } from '../maths/robustLoss.ts';
import { rotationFromVector, vectorFromRotation } from '../maths/rotation.ts';
import type { Vec3 } from '../maths/vec3.ts';
import { adjustBundle, type BundleFrame } from './bundle.ts';
import type { TargetView } from './calibrateLens.ts';
import { LENS_COUNT } from './lineariseBundle.ts';
import { planePose } from './planePose.ts';

export interface PairCalibration {
  readonly kind: 'calibrated';
  readonly first: Lens;
  readonly second: Lens;
  readonly secondFromFirst: RigidTransform;
  /** Root of the mean squared distance over the points of both cameras, px. */
  readonly rmsPx: number;
  readonly iterations: number;
}

/**
 * Two cameras that saw the same flat target at the same instants.
 * @param lenses starts, e.g. from calibrateLens
 * @param holdLenses true keeps both lenses and adjusts the relative pose alone
 */
export function calibratePair(
  targetM: readonly Vec3[],
  views: readonly { readonly first: TargetView; readonly second: TargetView }[],
  lenses: readonly [Lens, Lens],
  options: { readonly holdLenses: boolean; readonly loss?: RobustLoss },
): PairCalibration | { readonly kind: 'refused'; readonly because: string } {
  const frames: BundleFrame[] = [];
  const relative: RigidTransform[] = [];
  for (const { first, second } of views) {
    const a = planePose(targetM, first.px, lenses[0]);
    const b = planePose(targetM, second.px, lenses[1]);
    if (!a || !b) return { kind: 'refused', because: `no pose for view ${first.name}` };
    relative.push(compose(b, inverse(a)));
    frames.push({
      camFromTarget: a,
      observations: [
        ...first.px.map(([u, v], point) => ({ camera: 0 as const, point, u, v, sigmaPx: 1 })),
        ...second.px.map(([u, v], point) => ({ camera: 1 as const, point, u, v, sigmaPx: 1 })),
      ],
    });
  }
  const outcome = adjustBundle({
    lenses,
    secondFromFirst: medianTransform(relative),
    targetPointsM: targetM,
    targetSigmaM: 0,
    frames,
    fixed: options.holdLenses ? Array.from({ length: 2 * LENS_COUNT }, (_, i) => i) : [],
    loss: options.loss,
    maxIterations: 200,
  });
  if (outcome.kind === 'refused') return { kind: 'refused', because: `adjustment: ${outcome.because}` };
  return {
    kind: 'calibrated',
    first: outcome.lenses[0],
    second: outcome.lenses[1],
    secondFromFirst: outcome.secondFromFirst!,
    rmsPx: Math.sqrt((2 * outcome.chiSquare) / outcome.residualsPx.length),
    iterations: outcome.iterations,
  };
}

/** Component by component: one bad pose among many does not move it. For transforms that nearly agree. */
export function medianTransform(transforms: readonly RigidTransform[]): RigidTransform {
  const median = (values: number[]): number => values.sort((a, b) => a - b)[values.length >> 1];
  const turns = transforms.map((t) => vectorFromRotation(t.rotation));
  const of = (i: 0 | 1 | 2, list: readonly Vec3[]): number => median(list.map((v) => v[i]));
  const moves = transforms.map((t) => t.translation);
  return {
    rotation: rotationFromVector([of(0, turns), of(1, turns), of(2, turns)]),
    translation: [of(0, moves), of(1, moves), of(2, moves)],
  };
}
