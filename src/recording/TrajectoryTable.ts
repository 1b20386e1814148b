/** A trajectory as recorded, column by column, all of one length. Angles in degrees, as in the file. */
export interface TrajectoryTable {
  readonly tNs: Float64Array;
  readonly latDeg: Float64Array;
  readonly lonDeg: Float64Array;
  /** Ellipsoidal. */
  readonly heightM: Float64Array;
  readonly rollDeg: Float64Array;
  readonly pitchDeg: Float64Array;
  readonly headingDeg: Float64Array;
  readonly velocityNedMps: {
    readonly north: Float64Array;
    readonly east: Float64Array;
    readonly down: Float64Array;
  } | null;
  readonly sigma: {
    readonly northM: Float64Array;
    readonly eastM: Float64Array;
    readonly downM: Float64Array;
    readonly rollDeg: Float64Array;
    readonly pitchDeg: Float64Array;
    readonly headingDeg: Float64Array;
  } | null;
  /** What the receiver says of each row's solution ("fixed", "float" ...), where the file tells it. */
  readonly fix?: readonly string[];
  /** What was left out, taken for granted or mended on reading, a sentence each. */
  readonly notes?: readonly string[];
}
