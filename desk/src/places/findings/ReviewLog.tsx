import type { ReviewLogEntry } from '../../server/answers.ts';
import { useWords } from '../../words/useWords.ts';

/** Newest first; what was taken back stays to be read, struck through. */
export function ReviewLog({
  entries,
  labels,
}: {
  entries: readonly ReviewLogEntry[];
  labels: ReadonlyMap<string, string>;
}) {
  const { t, locale } = useWords();
  return (
    <section>
      <h2>{t('findings.log')}</h2>
      {entries.length === 0 ? (
        <p className="small soft">{t('findings.logEmpty')}</p>
      ) : (
        <ol className="review-log">
          {[...entries].reverse().map((entry) => (
            <li key={entry.line} className={entry.stands ? undefined : 'taken-back'}>
              <span>
                {t('findings.logLine', {
                  time: new Date(entry.atUtc).toLocaleString(locale),
                  who: entry.who,
                  what: t(`findings.acts.${entry.what}`),
                })}
                {entry.value && `: ${entry.value}`}
                {entry.otherFindingIds.length > 0 &&
                  ` (${entry.otherFindingIds.map((id) => labels.get(id) ?? id).join(', ')})`}
              </span>
              {!entry.stands && <span className="small"> {t('findings.logTakenBack')}</span>}
              {entry.why && <span className="under small soft">{entry.why}</span>}
            </li>
          ))}
        </ol>
      )}
    </section>
  );
}
