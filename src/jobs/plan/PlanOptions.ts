/** What a plan starts from. Figures that only a flight can tell have defaults, which the plan names. */
export interface PlanOptions {
  readonly rigFile: string;
  /** null: nominal lenses, with their large uncertainty. */
  readonly registrationFile: string | null;
  /** null: figures without passes. */
  readonly lineFile: string | null;
  /** Every standoff with every speed is a row of the table; passes are proposed for the first of each. */
  readonly standoffsM: readonly number[];
  readonly speedsMps: readonly number[];
  readonly frameRateHz: number;
  readonly exposureS: number;
  readonly colourExposureS: number;
  /** null: the middle setting of the rig's gain curve. */
  readonly gain: number | null;
  /** Line to line; null: the line's, or unknown. */
  readonly voltageKv: number | null;
  /** Beyond the nearest conductor; null: the line's own depth, or 12 m. */
  readonly depthM: number | null;
  readonly turnDegps: number;
  readonly positionSigmaM: number;
  readonly tiltSigmaDeg: number;
  readonly headingSigmaDeg: number;
  readonly mainsHz: number;
  readonly backgroundPerFrame: number;
  readonly pixelNoiseDn: number;
  /** Whoever plans knows that a standoff lies below a published distance, and answers for it. */
  readonly acknowledgeApproach: boolean;
  /** Whether to work out how each component is seen by the passes: seconds for a long line. Default: yes. */
  readonly withViews?: boolean;
  /** Folder for the passes; null: not written. */
  readonly outFolder: string | null;
}
