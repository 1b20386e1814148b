import type { Mat3 } from '../maths/mat3.ts';
import type { Vec3 } from '../maths/vec3.ts';
import type { MountingCorrection } from './MountingCorrection.ts';
import type { Placement } from './Placement.ts';

/** Sightings of one source, placed together. */
export interface Discharge {
  /** Id of its first sighting in the order given. */
  readonly id: string;
  readonly sightingIds: readonly string[];
  /** Stretches of flight that saw it: sightings of one flight less than 5 s apart count once. */
  readonly passes: number;
  readonly placement: Extract<Placement, { kind: 'placed' }>;
  /** Where it would be with the mounting as stated; missing where its place is that one. */
  readonly asMounted?: { readonly positionEnuM: Vec3; readonly covarianceEnuM2: Mat3 };
  /** Other discharges that some of its sightings would fit as well: their positions do not tell them apart. */
  readonly confusableWith: readonly string[];
}

export interface Gathering {
  readonly discharges: readonly Discharge[];
  /** What the discharges together say of the mounting, and whether their places follow it. */
  readonly correction: MountingCorrection;
  /** Sightings that no place could be found for, with the reason. */
  readonly unplaced: readonly {
    readonly sightingId: string;
    readonly refusal: Extract<Placement, { kind: 'refused' }>;
  }[];
}
