import type { Lens } from '../camera/Lens.ts';
import type { Vec3 } from '../maths/vec3.ts';
import type { Mounting } from '../rig/Mounting.ts';

/** What all rays of a pass are wrong by together. Standard deviations are 1 sigma. */
export interface SystematicErrors {
  /** Of the trajectory's position along east, north, up. */
  readonly positionSigmaEnuM: Vec3;
  readonly attitudeSigmaRad: { readonly roll: number; readonly pitch: number; readonly heading: number };
  /** Time over which the trajectory's errors stay alike (exponential correlation); passes further apart are independent. */
  readonly positionCorrelationS: number;
  readonly attitudeCorrelationS: number;
  /** Boresight, lever arm and time offset with their covariance: shared by all passes flown with this rig. */
  /**
   * Of the mean instant of the light within the exposures (lightInstant.ts), seconds: each source's and pass' own. Missing: nought, as for
   * a lamp that burns steadily.
   */
  readonly lightInstantSigmaS?: number;
  /**
   * Flights with the same rig key share what mounting and lens are wrong by; others do not, as after another bench run or another
   * mounting. Missing: all alike.
   */
  readonly rigKey?: string;
  readonly mounting: Mounting;
  readonly lens: Lens;
  /** Of the uv lens, 9 x 9 row by row in the order of LENS_PARAMETERS; shared by all passes flown with this rig. */
  readonly lensCovariance: Float64Array;
}

/**
 * The systematic parameters in the order of every sensitivity: position E N U (m), roll, pitch, heading (rad),
 * boresight (rotation vector in body axes, rad), lever arm (body, m), time offset (s), the lens (LENS_PARAMETERS).
 */
export const SYSTEMATIC_COUNT = 22;
/** The first of them belong to a pass, the others to the rig. */
export const PASS_COUNT = 6;
/** Index of the time offset, whose sensitivity is also that of the light's instant. */
export const TIME_OFFSET = 12;
