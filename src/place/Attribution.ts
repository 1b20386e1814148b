/** A candidate for what a discharge sits on. */
export interface Candidate {
  /** null: none of the components known. */
  readonly componentId: string | null;
  /** Posterior; all candidates of a discharge sum to 1. */
  readonly probability: number;
  /** From the placed point to the component's surface, 0 inside it. */
  readonly distanceM: number;
  /** Where on the axis: 0 at its start, 1 at its end. */
  readonly along: number;
  /** Disc counted from the cross-arm, where the accuracy supports it; null otherwise. */
  readonly disc: number | null;
}

export interface Attribution {
  /** Most probable first; those below 0.001 are left out and their sum is in `restProbability`. */
  readonly candidates: readonly Candidate[];
  readonly restProbability: number;
  /** What would settle it, where the best candidate has less than 0.95. */
  readonly advice: string | null;
}
