import type { Mat3 } from '../maths/mat3.ts';
import type { Vec3 } from '../maths/vec3.ts';

export type Placement =
  | {
      readonly kind: 'placed';
      readonly positionEnuM: Vec3;
      /** Sum of the two below: what a quoted ellipsoid is made from. */
      readonly covarianceEnuM2: Mat3;
      /** From what differs from ray to ray: shrinks with more rays. */
      readonly randomCovarianceEnuM2: Mat3;
      /** From what all rays of a pass share (trajectory, boresight, lever arm, time, lens): does not average out. */
      readonly systematicCovarianceEnuM2: Mat3;
      readonly rays: number;
      /** Root mean square of residuals over their standard deviations; near 1 when the errors are as stated. */
      readonly normalisedRms: number;
      readonly nearestRangeM: number;
      /** Largest angle between two rays at the point, degrees. */
      readonly crossingDeg: number;
      /** Whether the line model had to supply what the rays did not determine. */
      readonly heldByLine: boolean;
      /** Where it is held: what the rays alone say, so that the line model is not counted twice when components are weighed. */
      readonly withoutLine?: { readonly positionEnuM: Vec3; readonly covarianceEnuM2: Mat3 };
    }
  | {
      readonly kind: 'refused';
      readonly because: 'too few rays' | 'rays nearly parallel' | 'behind the camera' | 'no convergence';
      readonly rays: number;
    };
