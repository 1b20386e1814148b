import { useState } from 'react';
import type { FindingAnswer, FindingRow, FindingsAnswer } from '../../server/answers.ts';
import { useResource } from '../../server/resource.ts';
import { Loaded } from '../../shell/Loaded.tsx';
import { hashOf } from '../../shell/route.ts';
import { useWords } from '../../words/useWords.ts';
import { ComponentChoice } from './ComponentChoice.tsx';
import { ConflictNotice } from './ConflictNotice.tsx';
import { Facts } from './Facts.tsx';
import { MergeAndSplit } from './MergeAndSplit.tsx';
import { ReviewLog } from './ReviewLog.tsx';
import type { Review } from './useReview.ts';

/** What was typed and not kept yet, by finding: it outlives going elsewhere and coming back. */
const drafts = new Map<string, string>();

export function FindingDetail({
  row,
  all,
  labels,
  marked,
  onUnmark,
  mayWrite,
  review,
  next,
  onChoose,
}: {
  row: FindingRow;
  all: FindingsAnswer;
  labels: ReadonlyMap<string, string>;
  marked: ReadonlySet<string>;
  onUnmark: () => void;
  mayWrite: boolean;
  review: Review;
  next: string | null;
  onChoose: (id: string) => void;
}) {
  const { t, terms } = useWords();
  const detail = useResource<FindingAnswer>(`/api/findings/${encodeURIComponent(row.id)}`);
  const [comment, setComment] = useState(drafts.get(row.id) ?? row.comment);
  const label = labels.get(row.id) ?? row.id;
  const changed = comment !== row.comment;
  const several = all.findings.filter((each) => marked.has(each.id));
  const rows = several.length > 0 ? several : [row];
  const decide = async (decision: FindingRow['decision'], goOn: boolean) => {
    const done = await review.decide(rows, decision, changed && several.length === 0 ? comment : '');
    if (!done) return;
    drafts.delete(row.id);
    onUnmark();
    if (goOn && next) onChoose(next);
  };
  return (
    <aside className="finding-detail" id="finding-detail" tabIndex={-1} aria-label={t('findings.detail', { label })}>
      <header>
        <h2>{t('findings.detail', { label })}</h2>
        <p>
          {terms.priorities[row.priority]} · {terms.decisions[row.decision]}
          {row.mergedInto && ` · ${t('findings.mergedAway', { label: labels.get(row.mergedInto) ?? row.mergedInto })}`}
          {row.splitFrom && ` · ${t('findings.splitFrom', { label: labels.get(row.splitFrom) ?? row.splitFrom })}`}
        </p>
        {row.queueReasons.length > 0 && (
          <p className="small soft">{row.queueReasons.map((reason) => t(`findings.reasons.${reason}`)).join(', ')}</p>
        )}
        <div className="row">
          <a className="button" href={hashOf('evidence', row.id)}>
            {t('shell.evidence')}
          </a>
          <a className="button" href={hashOf('line', `finding:${row.id}`)}>
            {t('evidence.onLine')}
          </a>
        </div>
      </header>
      {review.conflict && <ConflictNotice conflict={review.conflict} review={review} labels={labels} />}
      {mayWrite ? (
        <section className="decide">
          {several.length > 0 && (
            <p className="row">
              <strong>{t('findings.decideMarked', { count: several.length })}</strong>
              <span className="soft">{several.map((each) => labels.get(each.id)).join(', ')}</span>
              <button type="button" className="plain" onClick={onUnmark}>
                {t('findings.unmark')}
              </button>
            </p>
          )}
          <div className="row">
            <button
              type="button"
              className="chief"
              disabled={review.busy}
              onClick={() => void decide('confirmed', false)}
            >
              {t('findings.confirm')}
            </button>
            <button type="button" disabled={review.busy} onClick={() => void decide('rejected', false)}>
              {t('findings.reject')}
            </button>
            {row.decision !== 'open' && (
              <button type="button" disabled={review.busy} onClick={() => void decide('open', false)}>
                {t('findings.reopen')}
              </button>
            )}
          </div>
          {next && several.length === 0 && (
            <div className="row">
              <button type="button" disabled={review.busy} onClick={() => void decide('confirmed', true)}>
                {t('findings.confirmNext')}
              </button>
              <button type="button" disabled={review.busy} onClick={() => void decide('rejected', true)}>
                {t('findings.rejectNext')}
              </button>
            </div>
          )}
          <label className="field">
            <span>
              {t('findings.comment')} {changed && <em>({t('findings.commentUnsaved')})</em>}
            </span>
            <textarea
              rows={3}
              maxLength={4000}
              value={comment}
              onChange={(event) => {
                setComment(event.target.value);
                drafts.set(row.id, event.target.value);
              }}
            />
          </label>
          <div>
            <button
              type="button"
              disabled={!changed || review.busy}
              onClick={async () => {
                if (await review.comment(row, comment)) drafts.delete(row.id);
              }}
            >
              {t('findings.commentSave')}
            </button>
          </div>
        </section>
      ) : (
        <p className="read-only">{t('findings.readOnly')}</p>
      )}
      <Loaded of={detail} what={t('findings.detail', { label })}>
        {(finding) => (
          <>
            <ComponentChoice
              key={finding.componentId}
              finding={finding}
              row={row}
              review={review}
              mayWrite={mayWrite}
            />
            <Facts finding={finding} />
            {mayWrite && (
              <MergeAndSplit
                key={finding.revision}
                finding={finding}
                row={row}
                all={all}
                labels={labels}
                marked={several}
                review={review}
              />
            )}
            <ReviewLog entries={finding.log} labels={labels} />
          </>
        )}
      </Loaded>
    </aside>
  );
}
