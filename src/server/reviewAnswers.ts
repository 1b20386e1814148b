import type { ReviewableCampaign } from '../campaign/ReviewableCampaign.ts';
import type { LoggedAct } from '../campaign/ReviewCommand.ts';
import { lastLineByFinding, ownStacks, standingActs } from '../campaign/reviewLog.ts';
import type { ReviewConflict, ReviewDone, ReviewLogEntry } from './api/review.ts';

/** The log as the API gives it. */
export function logEntriesOf(log: readonly LoggedAct[]): ReviewLogEntry[] {
  const standing = standingActs(log);
  return log.map((line) => ({
    line: line.line,
    act: line.act,
    findingId: line.findingId,
    atUtc: line.atUtc,
    who: line.who,
    what: line.what,
    value: line.value,
    why: line.why,
    otherFindingIds: line.others.flatMap((one) => (one.kind === 'sighting' ? [] : [one.id])),
    sightingIds: line.others.flatMap((one) => (one.kind === 'sighting' ? [one.id] : [])),
    stands: line.what === 'undo' || line.what === 'redo' || standing.has(line.act),
  }));
}

/** Lines of the log about one finding; what takes an act back is about the findings of that act. */
export function entriesAbout(log: readonly LoggedAct[], id: string): ReviewLogEntry[] {
  const acts = new Set(
    logEntriesOf(log)
      .filter((entry) => entry.findingId === id || entry.otherFindingIds.includes(id))
      .map(({ act }) => act),
  );
  return logEntriesOf(log).filter(
    ({ act, what, value, findingId, otherFindingIds }) =>
      findingId === id ||
      otherFindingIds.includes(id) ||
      ((what === 'undo' || what === 'redo') && acts.has(Number(value)) && acts.has(act) === false),
  );
}

export function reviewDoneOf(
  store: ReviewableCampaign,
  by: string,
  act: number,
  changed: readonly string[],
): ReviewDone {
  const log = store.acts();
  const revisions = store.findingRevisions();
  const { toUndo, toRedo } = ownStacks(log, by);
  return {
    revision: store.revision(),
    acts: logEntriesOf(log).filter((entry) => entry.act === act),
    changed: changed.map((id) => ({ id, revision: revisions.get(id) ?? '' })).filter(({ revision }) => revision !== ''),
    canUndo: toUndo.length > 0,
    canRedo: toRedo.length > 0,
  };
}

export function reviewConflictOf(store: ReviewableCampaign, ids: readonly string[]): ReviewConflict {
  const log = store.acts();
  const revisions = store.findingRevisions();
  const last = lastLineByFinding(log);
  const all = [...store.findings(), ...store.mergedFindings()];
  return {
    type: 'conflict',
    title: 'Somebody else was quicker',
    status: 409,
    detail: `Changed since you looked at it: ${ids.join(', ')}. Nothing was done.`,
    newer: ids.map((id) => {
      const finding = all.find((one) => one.id === id);
      return {
        id,
        revision: revisions.get(id) ?? null,
        decision: finding?.decision ?? null,
        comment: finding?.comment ?? null,
        componentId: finding?.componentId ?? null,
        mergedInto: finding?.mergedInto ?? null,
        lastActs: entriesAbout(log, id).filter(({ line }) => line > (last.get(id) ?? 0) - 10),
      };
    }),
  };
}
