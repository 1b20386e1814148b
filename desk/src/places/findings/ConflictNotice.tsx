import { useWords } from '../../words/useWords.ts';
import type { Conflict, Review } from './useReview.ts';

/** Two people on one finding: both acts are shown, and whoever came second chooses. */
export function ConflictNotice({
  conflict,
  review,
  labels,
}: {
  conflict: Conflict;
  review: Review;
  labels: ReadonlyMap<string, string>;
}) {
  const { t, terms } = useWords();
  const who = [...new Set(conflict.newer.flatMap((one) => one.lastActs.map((act) => act.who)))].join(', ');
  return (
    <section className="conflict" role="alert">
      <h2>{t('findings.conflictTitle')}</h2>
      <p>{t('findings.conflictWhat', { who: who || '–' })}</p>
      <h3>{t('findings.conflictTheirs')}</h3>
      <ul>
        {conflict.newer.map((one) => (
          <li key={one.id}>
            {labels.get(one.id) ?? one.id}:{' '}
            {one.revision === null
              ? t('findings.conflictGone')
              : [
                  one.decision && terms.decisions[one.decision],
                  one.componentId ?? terms.componentUnknown,
                  one.comment && `“${one.comment}”`,
                ]
                  .filter(Boolean)
                  .join(', ')}
          </li>
        ))}
      </ul>
      <h3>{t('findings.conflictMine')}</h3>
      <p>{conflict.described}</p>
      <div className="row">
        <button
          type="button"
          className="chief"
          disabled={review.busy || conflict.newer.some((one) => one.revision === null)}
          onClick={() => void review.insist()}
        >
          {t('findings.conflictAnyway')}
        </button>
        <button type="button" onClick={review.drop}>
          {t('findings.conflictDrop')}
        </button>
      </div>
    </section>
  );
}
