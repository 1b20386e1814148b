import type { ReviewableCampaign } from '../campaign/ReviewableCampaign.ts';
import type { ReviewLogEntry } from './api/review.ts';

/** The log as the API gives it. */
export function logEntriesOf(store: ReviewableCampaign): ReviewLogEntry[] {
  return store.reviewLog().map((entry, i) => ({
    act: i + 1,
    group: i + 1,
    findingId: entry.findingId,
    atUtc: entry.atUtc,
    who: entry.who,
    what: entry.what,
    value: entry.value,
    why: '',
    otherFindingIds: [],
    stands: true,
  }));
}
