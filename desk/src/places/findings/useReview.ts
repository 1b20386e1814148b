import { useCallback, useMemo, useState } from 'react';
import type {
  FindingRow,
  FindingsAnswer,
  ReviewConflict,
  ReviewDone,
  ReviewLogAnswer,
  ReviewRequest,
} from '../../server/answers.ts';
import { sendJson } from '../../server/ask.ts';
import { revisionHeard } from '../../server/connection.ts';
import { ProblemError } from '../../server/Problem.ts';
import { refresh, refreshAll, replace, useResource } from '../../server/resource.ts';
import { needReviewer, useReviewer } from '../../shell/reviewer.ts';
import { say } from '../../shell/spoken.ts';
import { useWords } from '../../words/useWords.ts';

/** An act that was refused because a finding had changed: what was wanted, and what stands there now. */
export interface Conflict {
  readonly wanted: ReviewRequest;
  readonly described: string;
  readonly done: string;
  readonly newer: ReviewConflict['newer'];
}

type Seen = Pick<FindingRow, 'id' | 'revision'>;
type Decision = FindingRow['decision'];

export interface Review {
  readonly busy: boolean;
  readonly conflict: Conflict | null;
  readonly canUndo: boolean;
  readonly canRedo: boolean;
  decide(rows: readonly Seen[], decision: Decision, comment?: string, why?: string): Promise<boolean>;
  comment(row: Seen, comment: string): Promise<boolean>;
  putOn(row: Seen, componentId: string | null, why: string): Promise<boolean>;
  merge(into: Seen, others: readonly Seen[], why: string): Promise<boolean>;
  split(from: Seen, sightingIds: readonly string[], why: string): Promise<boolean>;
  undo(): Promise<boolean>;
  redo(): Promise<boolean>;
  /** Does the refused act on top of what stands now. */
  insist(): Promise<boolean>;
  drop(): void;
}

const seen = ({ id, revision }: Seen): Seen => ({ id, revision });

/** Acts of a reviewer: sent with the revision that was seen, so that nobody's work is overwritten unread. */
export function useReview(labels: ReadonlyMap<string, string>): Review {
  const { t, terms } = useWords();
  const reviewer = useReviewer();
  const log = useResource<ReviewLogAnswer>('/api/review');
  const [busy, setBusy] = useState(false);
  const [conflict, setConflict] = useState<Conflict | null>(null);
  const [last, setLast] = useState<{ canUndo: boolean; canRedo: boolean } | null>(null);

  const send = useCallback(
    async (wanted: ReviewRequest, done: string, described: string): Promise<boolean> => {
      setBusy(true);
      try {
        const answer = await sendJson<ReviewDone>('/api/review', wanted);
        setLast(answer);
        setConflict(null);
        revisionHeard(answer.revision);
        refreshAll();
        refresh('/api/review');
        say(done);
        return true;
      } catch (error) {
        refresh('/api/findings');
        if (!(error instanceof ProblemError)) throw error;
        const { problem } = error;
        if (problem.status === 409 && Array.isArray(problem.body.newer))
          setConflict({ wanted, done, described, newer: problem.body.newer as ReviewConflict['newer'] });
        else if (problem.kind === 'offline') say(t('findings.offlineNotDone'));
        else say(t('findings.refused', { text: problem.detail || problem.title }));
        return false;
      } finally {
        setBusy(false);
      }
    },
    [t],
  );

  return useMemo(() => {
    const name = (id: string) => labels.get(id) ?? id;
    const by = async (make: (who: string) => [ReviewRequest, string, string]): Promise<boolean> => {
      const who = await needReviewer();
      if (!who) return false;
      return send(...make(who));
    };
    const mine =
      log.state === 'ready'
        ? log.data.entries.some((e) => e.who === reviewer && e.stands && e.what !== 'undo' && e.what !== 'redo')
        : false;
    return {
      busy,
      conflict,
      canUndo: last?.canUndo ?? mine,
      canRedo: last?.canRedo ?? false,
      decide: (rows, decision, comment = '', why = '') =>
        by((who) => {
          // The row changes at once; a refusal puts it back when the findings are asked for again.
          const ids = new Set(rows.map((row) => row.id));
          replace<FindingsAnswer>('/api/findings', (data) => ({
            ...data,
            findings: data.findings.map((row) => (ids.has(row.id) ? { ...row, decision } : row)),
          }));
          const named = rows.map((row) => name(row.id)).join(', ');
          return [
            { action: 'decide', by: who, findings: rows.map(seen), decision, comment, why },
            t(`findings.done_${decision}`, { label: named }),
            `${named}: ${terms.decisions[decision]}${comment ? `, “${comment}”` : ''}`,
          ];
        }),
      comment: (row, comment) =>
        by((who) => [
          { action: 'comment', by: who, findings: [seen(row)], comment },
          t('findings.done_comment', { label: name(row.id) }),
          `${name(row.id)}: “${comment}”`,
        ]),
      putOn: (row, componentId, why) =>
        by((who) => [
          { action: 'assign component', by: who, findings: [seen(row)], componentId, why },
          t('findings.done_component', {
            label: name(row.id),
            component: componentId ?? t('findings.componentNone'),
          }),
          `${name(row.id)}: ${componentId ?? t('findings.componentNone')}`,
        ]),
      merge: (into, others, why) =>
        by((who) => [
          { action: 'merge', by: who, into: seen(into), findings: others.map(seen), why },
          t('findings.done_merge', { label: name(into.id) }),
          `${others.map((row) => name(row.id)).join(', ')} → ${name(into.id)}`,
        ]),
      split: (from, sightingIds, why) =>
        by((who) => [
          { action: 'split', by: who, from: seen(from), sightingIds: [...sightingIds], why },
          t('findings.done_split', { label: name(from.id) }),
          `${name(from.id)}: ${sightingIds.join(', ')}`,
        ]),
      undo: () => by((who) => [{ action: 'undo', by: who }, t('findings.done_undo'), t('findings.undo')]),
      redo: () => by((who) => [{ action: 'redo', by: who }, t('findings.done_redo'), t('findings.redo')]),
      insist: async () => {
        if (!conflict) return false;
        return send(onTopOf(conflict), conflict.done, conflict.described);
      },
      drop: () => {
        setConflict(null);
        refreshAll();
      },
    };
  }, [busy, conflict, last, log, reviewer, labels, send, t, terms]);
}

/** The same request with the revisions as they are now. */
function onTopOf({ wanted, newer }: Conflict): ReviewRequest {
  const now = new Map(newer.map((one) => [one.id, one.revision]));
  const renewed = (one: Seen): Seen => ({ id: one.id, revision: now.get(one.id) ?? one.revision });
  switch (wanted.action) {
    case 'merge':
      return { ...wanted, into: renewed(wanted.into), findings: wanted.findings.map(renewed) };
    case 'split':
      return { ...wanted, from: renewed(wanted.from) };
    case 'undo':
    case 'redo':
      return wanted;
    default:
      return { ...wanted, findings: wanted.findings.map(renewed) };
  }
}
