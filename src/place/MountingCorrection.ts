import type { Vec3 } from '../maths/vec3.ts';

/**
 * What a rig's mounting is off by, as the discharges themselves say; axes of the body. Boresight is meant as it acts in the middle of the
 * picture: a principal point that is off turns the view in the same way, and no flight past points tells the two apart.
 */
export interface MountingShift {
  /** Which rig, as SystematicErrors has it. */
  readonly rigKey: string;
  /** Small rotation to be applied on the left of bodyFromUv. */
  readonly boresightRad: Vec3;
  readonly boresightSigmaRad: Vec3;
  /** What the mounting stated before. */
  readonly statedBoresightSigmaRad: Vec3;
  /** To be added to the time offset. */
  readonly timeOffsetS: number;
  readonly timeOffsetSigmaS: number;
  readonly statedTimeOffsetSigmaS: number;
  /** Of boresight (rad) and time offset (s) together, 4 x 4 row by row. */
  readonly covariance: readonly number[];
}

/** The grounds on which a correction was adopted or not. */
export interface CorrectionGrounds {
  readonly shifts: readonly MountingShift[];
  readonly oppositeDischarges: number;
  /** Against no correction at all, over the combinations that the discharges know better than the mounting. */
  readonly chiSquare: number;
  readonly freedom: number;
  /** How sightings of one discharge disagree that the correction had not seen, in standard deviations, without it and with it. */
  readonly heldOutRmsBefore: number;
  readonly heldOutRmsAfter: number;
}

/** Whether positions follow small corrections to boresight and time offset, and why. */
export type MountingCorrection =
  | ({ readonly kind: 'adopted' } & CorrectionGrounds)
  | {
      readonly kind: 'left';
      readonly because:
        | 'not asked for'
        | 'one side only'
        | 'too few discharges seen from opposite sides'
        | 'the rig is known better than these discharges tell'
        | 'no more than chance'
        | 'held-out sightings agree no better';
      readonly oppositeDischarges: number;
      readonly grounds?: CorrectionGrounds;
    };
