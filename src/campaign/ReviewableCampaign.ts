import type { CampaignStore } from './CampaignStore.ts';

/** A campaign that several people work on at once. */
export interface ReviewableCampaign extends CampaignStore {
  /** Names what the campaign holds now: another text after every change, by whatever process. */
  revision(): string;
  /** The same for each finding: what the inspection said of it, and every act of review that concerns it. */
  findingRevisions(): ReadonlyMap<string, string>;
}
