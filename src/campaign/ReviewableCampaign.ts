import type { CampaignStore } from './CampaignStore.ts';
import type { LoggedAct, ReviewCommand, ReviewOutcome } from './ReviewCommand.ts';
import type { FindingRecord, SightingRecord } from './records.ts';

/** A campaign that several people work on at once. */
export interface ReviewableCampaign extends CampaignStore {
  /** Names what the campaign holds now: another text after every change, by whatever process. */
  revision(): string;
  /** The same for each finding: what the inspection said of it, and every act of review that concerns it. */
  findingRevisions(): ReadonlyMap<string, string>;
  /** Findings that a reviewer made part of another; `findings()` is without them. */
  mergedFindings(): readonly FindingRecord[];
  /** Sightings that were placed in a discharge, without the many that were not. */
  placedSightings(): readonly SightingRecord[];
  sightingCounts(): { readonly all: number; readonly suspect: number };
  /** How many pictures each finding has; without those that have none. */
  evidenceCounts(): ReadonlyMap<string, number>;
  /** The flight whose inspection made each finding. */
  flightByFinding(): ReadonlyMap<string, string>;
  /** Does what a reviewer says, all of it or nothing, in one transaction; whoever saw an older revision is told. */
  act(command: ReviewCommand): ReviewOutcome;
  /** The log, line by line. */
  acts(): readonly LoggedAct[];
}
