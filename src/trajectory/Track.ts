import type { LocalFrame } from '../earth/LocalFrame.ts';
import type { TrajectoryTable } from '../recording/TrajectoryTable.ts';

/** Standard deviations of one row, where the recording gives none: of position along NED, of attitude, 1 sigma. */
export interface RowSigma {
  readonly northM: number;
  readonly eastM: number;
  readonly downM: number;
  readonly rollDeg: number;
  readonly pitchDeg: number;
  readonly headingDeg: number;
}

/**
 * A trajectory ready to be asked: positions and velocities in the campaign's ENU frame (3 numbers a row), attitudes as
 * unit quaternions enuFromBody (w, x, y, z). Made by buildTrack, asked through interpolatePose.
 */
export interface Track {
  readonly frame: LocalFrame;
  readonly table: TrajectoryTable;
  readonly count: number;
  readonly tNs: Float64Array;
  readonly positionEnuM: Float64Array;
  readonly velocityEnuMps: Float64Array;
  readonly enuFromBody: Float64Array;
  /** Whether velocities were recorded or had to be taken from the positions. */
  readonly velocityRecorded: boolean;
  /** Taken for every row where the table has no standard deviations; null where it has. */
  readonly assumedSigma: RowSigma | null;
  /** Median distance between rows. */
  readonly periodNs: number;
  /** Two rows farther apart than this are not bridged. */
  readonly longestBridgeNs: number;
  /**
   * How fast the truth strays between two rows: power density of unknown acceleration (m2/s3, per axis) and of unknown
   * angular acceleration (rad2/s3, per axis), measured on this track by leaving its own rows out.
   */
  readonly accelerationDensity: number;
  readonly angularDensity: number;
}
