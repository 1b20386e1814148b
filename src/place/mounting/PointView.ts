import type { Vec3 } from '../../maths/vec3.ts';
import type { Track } from '../../trajectory/Track.ts';
import type { Occasion } from '../passCorrelation.ts';

/** One photon event as the camera saw it, before any trajectory or mounting. */
export interface UvRay {
  /** Middle of the exposure by the camera's stamp. */
  readonly tNs: number;
  readonly exposureNs: number;
  /** Unit length, camera frame. */
  readonly directionUv: Vec3;
  readonly sigmaRad: number;
  /** Probability that the event is of this source. */
  readonly membership: number;
}

/** One point of light seen through one pass. */
export interface PointView extends Occasion {
  readonly id: string;
  /** Index into the points of the problem. */
  readonly point: number;
  /** Number of the pass: what is flown on one heading without turning. */
  readonly pass: number;
  readonly track: Track;
  readonly rays: readonly UvRay[];
}

/** A point of light at rest: a lamp with surveyed coordinates, or a discharge whose place is an unknown. */
export interface LightPoint {
  readonly id: string;
  /** Surveyed, or where the search begins. */
  readonly positionEnuM: Vec3;
  /** Of surveyed coordinates, per axis, metres; null: not surveyed. */
  readonly surveyedSigmaM: number | null;
}
