import type { OpenCampaign } from './CampaignView.ts';
import type { ChangeFeed } from './ChangeFeed.ts';
import type { DeskOptions } from './DeskOptions.ts';
import type { EventShelf } from './EventShelf.ts';
import type { GuardOptions } from './guard/guardRequests.ts';
import type { JobRunner } from './JobRunner.ts';
import type { RecordingShelf } from './RecordingShelf.ts';
import type { RigShelf } from './RigShelf.ts';

/** What the routes of one running desk share. */
export interface DeskContext {
  readonly options: DeskOptions;
  readonly campaign: OpenCampaign;
  readonly flights: RecordingShelf;
  readonly benches: RecordingShelf;
  /** Campaigns of earlier years: file by the name that it goes by. */
  readonly earlier: ReadonlyMap<string, string>;
  readonly events: EventShelf;
  readonly rigs: RigShelf;
  readonly jobs: JobRunner;
  readonly changes: ChangeFeed;
  readonly guard: GuardOptions;
}
