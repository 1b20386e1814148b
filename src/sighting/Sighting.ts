import type { Vec3 } from '../maths/vec3.ts';

/** Why a sighting is not believed to be a discharge at rest on the line. */
export const SUSPICIONS = [
  'fixed in the image',
  'moves in space',
  'sun glint',
  'single bright flash',
  'too few frames',
  'off the line',
  'sun near the view',
] as const;
export type Suspicion = (typeof SUSPICIONS)[number];

/** One source followed through one pass: the photon events whose rays cross at one place. */
export interface Sighting {
  readonly id: string;
  /** Rows of EventRays that belong to it, rising. */
  readonly rays: Int32Array;
  /** Probability, 0 to 1, that each of them is of this source rather than of the background. */
  readonly membership: Float64Array;
  readonly fromNs: number;
  readonly toNs: number;
  /** Frames of the pass in which the place was inside the image, with or without an event. */
  readonly framesInView: number;
  /** Where the rays cross, before placing. */
  readonly seedEnuM: Vec3;
  /** ln of the likelihood with this source over the likelihood without. */
  readonly logLikelihoodRatio: number;
  /** Background events expected inside the aperture over the pass. */
  readonly expectedBackground: number;
  /** How many sightings as strong as this one chance would give in an hour of flight. */
  readonly falseAlarmsPerHour: number;
  readonly suspicions: readonly Suspicion[];
  /**
   * Where the source is wider than a point: its standard deviation across the line of sight, and the gain in ln likelihood over a
   * point at the same place. Missing where a point explains the events.
   */
  readonly extent?: { readonly sigmaM: number; readonly lnEvidence: number };
  /**
   * Where two sources were told apart that at first looked like one: gain in ln likelihood of the two over one wide source, less the
   * penalty for its three more numbers. 5 is 150 to 1, the least that is believed.
   */
  readonly oneOfTwo?: { readonly lnEvidence: number };
}
