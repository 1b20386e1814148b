import { uvPx } from '../camera/pixel.ts';
import { transformPoint } from '../maths/rigidTransform.ts';
import { norm } from '../maths/vec3.ts';
import type { RigDescription } from '../recording/RigDescription.ts';
import type { BenchRun } from './BenchObservations.ts';
import { colourFromUv } from './colourFromUv.ts';
import { fitRig, type LeftOutFrame, type RigFitOutcome } from './fitRig.ts';
import type { Registration } from './Registration.ts';
import { resectFrames } from './rigBundle.ts';

export interface VerifiedSweep {
  readonly name: string;
  readonly marks: number;
  /** Two-dimensional RMS of colour pixel seen minus predicted. */
  readonly rmsPx: number;
  /** Mean of the residual: a rig that has moved shows here, noise does not. */
  readonly shiftPx: readonly [number, number];
}

export interface Verification {
  readonly kind: 'verified';
  readonly passed: boolean;
  readonly tolerancePx: number;
  readonly rmsPx: number;
  /** What the noise of the target's positions alone makes of it. */
  readonly noiseFloorPx: number;
  /** The error of the mapping itself: what is left of the RMS when the noise is taken off. */
  readonly mappingErrorPx: number;
  readonly marks: number;
  readonly frames: number;
  /** Marks outside the region that the registration supports, not judged. */
  readonly unsupported: number;
  readonly bySweep: readonly VerifiedSweep[];
  readonly reasons: readonly string[];
  readonly leftOut: readonly LeftOutFrame[];
}
export type VerificationOutcome =
  | Verification
  | {
      readonly kind: 'refused';
      readonly because: string;
      readonly record: string;
      readonly leftOut: readonly LeftOutFrame[];
    };

/** A sweep of fewer marks says little about itself. */
const LEAST_MARKS = 40;

/**
 * Holds a registration against a run that it has not seen. Nothing of it is fitted: the target's poses come from the
 * ultraviolet image and the registration's own lens, the colour pixels follow from the mapping. Noise of the finders and
 * corrections of the target are taken from an adjustment of the new run, which the judged residuals do not enter.
 * It passes where the error of the mapping, overall and as the mean of every sweep, is within the tolerance.
 */
export function verifyRegistration(
  rig: RigDescription,
  run: BenchRun,
  registration: Registration,
  tolerancePx: number,
  fit: RigFitOutcome = fitRig(rig, run),
): VerificationOutcome {
  if (fit.kind === 'refused') return fit;
  const { model } = registration;
  const state = { ...fit.state, uv: model.uv, colour: model.colour, colourFromUv: model.colourFromUv };
  const poses = resectFrames(run, fit.frames, fit.poses, state, fit.factors);
  if (!poses)
    return {
      kind: 'refused',
      because: "the target's poses could not be found with the lens of this registration",
      record: 'Check that the registration belongs to this rig; calibrate anew with this run.',
      leftOut: fit.leftOut,
    };
  const poseOf = new Map(fit.frames.map((f, i) => [f, poses[i]]));
  const sums = run.sweeps.map(() => ({ n: 0, squares: 0, u: 0, v: 0 }));
  let noise = 0;
  let unsupported = 0;
  for (const c of fit.correspondences) {
    const inverseRangePerM = 1 / norm(transformPoint(poseOf.get(c.frame)!, state.targetPointsM[c.mark]));
    const mapped = colourFromUv(registration, uvPx(c.uv[0], c.uv[1]), inverseRangePerM);
    if (mapped.kind === 'refused' || !mapped.supported) {
      unsupported++;
      continue;
    }
    const du = c.colour[0] - mapped.px[0];
    const dv = c.colour[1] - mapped.px[1];
    const sum = sums[c.frame.sweep];
    sum.n++;
    sum.squares += du * du + dv * dv;
    sum.u += du;
    sum.v += dv;
    noise += 2 * c.sigmaPx ** 2;
  }
  const marks = sums.reduce((a, s) => a + s.n, 0);
  if (marks < LEAST_MARKS)
    return {
      kind: 'refused',
      because: `${marks} marks within the region that the registration supports, at least ${LEAST_MARKS} needed`,
      record: 'Carry the target through the middle of the image, at ranges of the first bench run or beyond.',
      leftOut: fit.leftOut,
    };
  const rmsPx = Math.sqrt(sums.reduce((a, s) => a + s.squares, 0) / marks);
  const noiseFloorPx = Math.sqrt(noise / marks);
  const mappingErrorPx = Math.sqrt(Math.max(0, rmsPx ** 2 - noiseFloorPx ** 2));
  const bySweep = run.sweeps.flatMap(({ name }, i): VerifiedSweep[] => {
    const { n, squares, u, v } = sums[i];
    return n === 0 ? [] : [{ name, marks: n, rmsPx: Math.sqrt(squares / n), shiftPx: [u / n, v / n] }];
  });
  const shifted = bySweep.filter((s) => s.marks >= LEAST_MARKS && Math.hypot(...s.shiftPx) > tolerancePx);
  const within = mappingErrorPx <= tolerancePx;
  return {
    kind: 'verified',
    passed: within && shifted.length === 0,
    tolerancePx,
    rmsPx,
    noiseFloorPx,
    mappingErrorPx,
    marks,
    frames: fit.frames.length,
    unsupported,
    bySweep,
    reasons: [
      `error of the mapping on this run ${mappingErrorPx.toFixed(3)} px (residuals ${rmsPx.toFixed(3)} px, noise ${noiseFloorPx.toFixed(3)} px), ${within ? 'within' : 'above'} the tolerance of ${tolerancePx} px`,
      ...shifted.map(
        (s) =>
          `sweep ${s.name} is shifted as a whole by ${s.shiftPx.map((x) => x.toFixed(3)).join(', ')} px, above the tolerance`,
      ),
    ],
    leftOut: fit.leftOut,
  };
}
