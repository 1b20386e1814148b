import type { Interval } from '../maths/poissonInterval.ts';
import type { Reason } from './Reason.ts';

/** Photons per second that a discharge sends into all directions, in the rig's stated band. */
export interface PhotonRate {
  readonly rateHz: number;
  /** 95 %, counting statistics widened by the measured overdispersion. */
  readonly countingInterval: Interval;
  /** 95 %, with the systematic part (range, air, efficiency) added. */
  readonly interval: Interval;
  /** Background-free events counted. */
  readonly events: number;
  /** Background events expected among those seen; missing in campaigns of earlier releases. */
  readonly background?: number;
  /** Variance over mean of the counts per time slice; 1 for a Poisson source, never taken below 1. */
  readonly overdispersion: number;
  readonly bandNm: readonly [number, number];
  /** Relative standard deviations, one name each: 'range', 'air', ... */
  readonly budget: readonly { readonly name: string; readonly relativeSigma: number }[];
  /** Remarks in English. */
  readonly notes: readonly string[];
  /** The same for any language; missing in campaigns of earlier releases. */
  readonly remarks?: readonly Reason[];
}
