import type { FindingRow } from '../../server/answers.ts';
import { useWords } from '../../words/useWords.ts';
import type { Review } from './useReview.ts';

/** What needs a human, most valuable first, and the way back from the last act. */
export function QueueBand({
  queue,
  labels,
  onGo,
  review,
  mayWrite,
}: {
  queue: readonly FindingRow[];
  labels: ReadonlyMap<string, string>;
  onGo: (id: string) => void;
  review: Review;
  mayWrite: boolean;
}) {
  const { t } = useWords();
  const first = queue[0];
  return (
    <div className="queue-band">
      <div>
        {first ? (
          <>
            <strong>{t('findings.queueLeft', { count: queue.length })}</strong>{' '}
            <span className="soft">
              {t('findings.queueNext', { label: labels.get(first.id) ?? first.id })} (
              {first.queueReasons.map((reason) => t(`findings.reasons.${reason}`)).join(', ')})
            </span>
          </>
        ) : (
          <strong>{t('findings.queueDone')}</strong>
        )}
      </div>
      <div className="row keep-right">
        {first && (
          <button type="button" onClick={() => onGo(first.id)}>
            {t('findings.queueGo')}
          </button>
        )}
        <button type="button" disabled={!mayWrite || !review.canUndo || review.busy} onClick={() => void review.undo()}>
          {t('findings.undo')}
        </button>
        <button type="button" disabled={!mayWrite || !review.canRedo || review.busy} onClick={() => void review.redo()}>
          {t('findings.redo')}
        </button>
      </div>
    </div>
  );
}
