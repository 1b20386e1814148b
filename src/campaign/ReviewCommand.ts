import type { FindingRecord, ReviewEntry } from './records.ts';

/** A finding, and the revision of it that the reviewer looked at; null where whoever asks takes it as it is. */
export interface SeenFinding {
  readonly id: string;
  readonly revision: string | null;
}

/** What a reviewer does. Several findings in one command are one act: all or none, and taken back together. */
export type ReviewCommand = { readonly by: string; readonly atUtc: string; readonly why: string } & (
  | {
      readonly action: 'decide';
      readonly findings: readonly SeenFinding[];
      readonly decision: FindingRecord['decision'];
      /** Replaces the comment that stands, unless empty. */
      readonly comment: string;
    }
  | { readonly action: 'comment'; readonly findings: readonly SeenFinding[]; readonly comment: string }
  | {
      readonly action: 'assign component';
      readonly findings: readonly SeenFinding[];
      /** null: none of the components known. */
      readonly componentId: string | null;
    }
  /** The findings are the same discharge as `into`, and are no findings of their own any more. */
  | { readonly action: 'merge'; readonly into: SeenFinding; readonly findings: readonly SeenFinding[] }
  /** These sightings of the finding are of another discharge, which becomes a finding of its own. */
  | { readonly action: 'split'; readonly from: SeenFinding; readonly sightingIds: readonly string[] }
  /** Takes back an act, by its number; null: the last one of this reviewer that stands. */
  | { readonly action: 'undo'; readonly act: number | null }
  /** Does again what this reviewer took back last. */
  | { readonly action: 'redo' }
);

/** A line of the log with its place in it. */
export interface LoggedAct extends ReviewEntry {
  /** From 1; several lines that were written together share the number of the first. */
  readonly act: number;
  readonly line: number;
  readonly why: string;
  /** Place of the finding when it was said, and what else the act is about. */
  readonly positionEnuM: readonly [number, number, number];
  readonly others: readonly OtherOfAct[];
}

export type OtherOfAct =
  | { readonly kind: 'merged'; readonly id: string; readonly positionEnuM: readonly [number, number, number] }
  | { readonly kind: 'split off'; readonly id: string }
  | { readonly kind: 'sighting'; readonly id: string; readonly fromUtc: string };

export type ReviewOutcome =
  | { readonly kind: 'done'; readonly act: number; readonly changed: readonly string[] }
  /** Somebody else was quicker: nothing was done. */
  | { readonly kind: 'conflict'; readonly findings: readonly string[] }
  | { readonly kind: 'refused'; readonly because: RefusedReview; readonly detail: string };

export type RefusedReview =
  | 'no such finding'
  | 'no such component'
  | 'merged already'
  | 'merged with itself'
  | 'not its sightings'
  | 'nothing would be left'
  | 'nothing to take back'
  | 'no such act'
  | 'later acts rest on it';
