import type { Mat3 } from '../maths/mat3.ts';
import type { RigidTransform } from '../maths/rigidTransform.ts';

/** How the ultraviolet camera sits on the body whose position and attitude the trajectory gives. */
export interface Mounting {
  readonly bodyFromUv: RigidTransform;
  /** Of the lever arm, body frame. */
  readonly leverArmCovarianceM2: Mat3;
  /** Of a small rotation vector applied on the left of bodyFromUv (axes of the body frame). */
  readonly boresightCovarianceRad2: Mat3;
  /** Time to add to a camera stamp to read the trajectory at the same instant. */
  readonly timeOffsetNs: number;
  readonly timeOffsetSigmaNs: number;
  /**
   * Where known: covariance of all seven together, 7 x 7 row by row: boresight (rad), lever arm (m), time offset (s); or
   * 16 x 16, followed by the nine of the uv lens that it was measured with (LENS_PARAMETERS), whose own covariance it then
   * replaces. Between the blocks above, a flight often knows a sum better than its parts.
   */
  readonly jointCovariance?: Float64Array;
}
