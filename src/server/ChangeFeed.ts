import type { Job } from './api/jobs.ts';
import type { OpenCampaign } from './CampaignView.ts';

export type Change =
  | { readonly event: 'revision'; readonly data: { revision: string } }
  | { readonly event: 'job'; readonly data: Job };

/** How soon what another process wrote is told: the question takes some microseconds. */
const LOOK_EVERY_MS = 500;

/** Tells whoever listens what changed in the campaign and in the jobs. */
export class ChangeFeed {
  private readonly campaign: OpenCampaign;
  private readonly listeners = new Set<(change: Change) => void>();
  private readonly timer: NodeJS.Timeout;
  private last: string;

  constructor(campaign: OpenCampaign) {
    this.campaign = campaign;
    this.last = campaign.store.revision();
    this.timer = setInterval(() => {
      if (this.listeners.size > 0) this.look();
    }, LOOK_EVERY_MS);
    this.timer.unref();
  }

  /** Asks the file now. A file that another process holds for the moment is asked again later. */
  look(): void {
    let revision: string;
    try {
      revision = this.campaign.store.revision();
    } catch (error) {
      if ((error as { code?: string }).code?.startsWith('SQLITE_BUSY')) return;
      throw error;
    }
    if (revision === this.last) return;
    this.last = revision;
    this.tell({ event: 'revision', data: { revision } });
  }

  tell(change: Change): void {
    for (const listener of this.listeners) listener(change);
  }

  /** @returns how to stop listening */
  listen(listener: (change: Change) => void): () => void {
    this.listeners.add(listener);
    return () => this.listeners.delete(listener);
  }

  close(): void {
    clearInterval(this.timer);
    this.listeners.clear();
  }
}
