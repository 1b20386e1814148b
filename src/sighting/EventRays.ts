import type { Vec3 } from '../maths/vec3.ts';

/**
 * One ray for each photon event: where the uv camera's centre was, and which way the event lies, in the campaign's
 * local east-north-up frame. Arrays of 3 numbers an event; `event` says which event a ray belongs to (events without
 * a pose or outside the lens have no ray).
 */
export interface EventRays {
  readonly count: number;
  readonly event: Int32Array;
  readonly frame: Int32Array;
  readonly tNs: Float64Array;
  readonly originEnuM: Float64Array;
  /** Unit length. */
  readonly directionEnu: Float64Array;
  /** Standard deviation across the ray, rad, of what differs from ray to ray (spot, optics, attitude noise). */
  readonly sigmaRad: Float64Array;
}

/** Pose and look of the uv camera for every frame of a stretch, for projecting points of space into frames. */
export interface FramePoses {
  readonly count: number;
  readonly frame: Int32Array;
  readonly tNs: Float64Array;
  readonly exposureNs: Float64Array;
  readonly originEnuM: Float64Array;
  /** uvFromEnu rotation, row by row, 9 numbers a frame. */
  readonly uvFromEnu: Float64Array;
}

/** A corridor to search: places farther from every segment than `radiusM` are not considered. Empty = no line known. */
export interface SearchCorridor {
  readonly segments: readonly { readonly fromEnuM: Vec3; readonly toEnuM: Vec3 }[];
  readonly radiusM: number;
  readonly nearestM: number;
  readonly farthestM: number;
}
