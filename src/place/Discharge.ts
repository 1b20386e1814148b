import type { Placement } from './Placement.ts';

/** Sightings of one source, placed together. */
export interface Discharge {
  /** Id of its first sighting in the order given. */
  readonly id: string;
  readonly sightingIds: readonly string[];
  /** Stretches of flight that saw it: sightings of one flight less than 5 s apart count once. */
  readonly passes: number;
  readonly placement: Extract<Placement, { kind: 'placed' }>;
  /** Other discharges that some of its sightings would fit as well: their positions do not tell them apart. */
  readonly confusableWith: readonly string[];
}

export interface Gathering {
  readonly discharges: readonly Discharge[];
  /** Sightings that no place could be found for, with the reason. */
  readonly unplaced: readonly {
    readonly sightingId: string;
    readonly refusal: Extract<Placement, { kind: 'refused' }>;
  }[];
}
