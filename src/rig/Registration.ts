import type { Lens } from '../camera/Lens.ts';
import type { RigidTransform } from '../maths/rigidTransform.ts';

/** The rungs of the ladder of models, simplest first. */
export const MODEL_KINDS = [
  'shift',
  'similarity',
  'affine',
  'projective',
  'polynomial degree 2',
  'polynomial degree 3',
  'two-camera',
  'two-camera with residual field',
] as const;
export type ModelKind = (typeof MODEL_KINDS)[number];

/** A mapping of the plane fitted at one mean range: it knows nothing of parallax. */
export interface PlaneModel {
  readonly kind: Exclude<ModelKind, 'two-camera' | 'two-camera with residual field'>;
  /** Coefficients in the order of the model's own file, for uv pixels scaled to about [-1, 1]. */
  readonly coefficients: readonly number[];
  readonly scale: { readonly centrePx: readonly [number, number]; readonly halfWidthPx: number };
}

/** Both lenses and how they stand to each other: valid at every range. */
export interface TwoCameraModel {
  readonly kind: 'two-camera' | 'two-camera with residual field';
  readonly uv: Lens;
  readonly colour: Lens;
  readonly colourFromUv: RigidTransform;
  /** Smooth correction in colour pixels: polynomial coefficients over uv pixels scaled as in PlaneModel; empty = none. */
  readonly residualField: readonly number[];
}

/**
 * Parameters of the two-camera model in the order of its covariance: 9 of the uv lens, 9 of the colour lens
 * (LENS_PARAMETERS), 3 of the rotation (a small rotation vector applied on the left of colourFromUv), 3 of the translation.
 */
export const TWO_CAMERA_PARAMETER_COUNT = 24;

/** Where the bench run held data: outside, the mapping is extrapolated and says so. */
export interface Support {
  /** Convex hull of the uv pixels used, counter-clockwise. */
  readonly uvHullPx: readonly (readonly [number, number])[];
  readonly nearestM: number;
  readonly farthestM: number;
}

/** The mapping from ultraviolet to colour pixels with all that is known of its errors. */
export interface Registration {
  readonly model: TwoCameraModel;
  /** Row by row, TWO_CAMERA_PARAMETER_COUNT squared; of the fit, scaled by its own held-out error. */
  readonly covariance: Float64Array;
  readonly support: Support;
  /** Root mean square of the held-out colour residuals, both axes together, px. */
  readonly heldOutRmsPx: number;
  /** SHA-256 of the registration file's content, for provenance. */
  readonly hash: string;
}
