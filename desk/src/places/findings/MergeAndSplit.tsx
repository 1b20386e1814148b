import { useState } from 'react';
import type { FindingAnswer, FindingRow, FindingsAnswer } from '../../server/answers.ts';
import { useWords } from '../../words/useWords.ts';
import type { Review } from './useReview.ts';

export function MergeAndSplit({
  finding,
  row,
  all,
  labels,
  marked,
  review,
}: {
  finding: FindingAnswer;
  row: FindingRow;
  all: FindingsAnswer;
  labels: ReadonlyMap<string, string>;
  marked: readonly FindingRow[];
  review: Review;
}) {
  const { t, numbers, locale } = useWords();
  const [parted, setParted] = useState<ReadonlySet<string>>(new Set());
  const [why, setWhy] = useState('');
  const label = labels.get(row.id) ?? row.id;
  const near = finding.nearby.flatMap((one) => {
    const other = all.findings.find((each) => each.id === one.id);
    return other && other.mergedInto === null ? [{ ...one, row: other }] : [];
  });
  const others = marked.filter((each) => each.id !== row.id);
  return (
    <details className="merge-split">
      <summary>
        {t('findings.merge')} · {t('findings.split')}
      </summary>
      <section>
        <h3>{t('findings.merge')}</h3>
        {finding.mergedFindingIds.length > 0 && (
          <p className="small">
            {t('findings.mergedHere', {
              labels: finding.mergedFindingIds.map((id) => labels.get(id) ?? id).join(', '),
            })}
          </p>
        )}
        {near.length === 0 && others.length === 0 && <p className="small soft">{t('findings.mergeNone')}</p>}
        {near.map(({ row: other, distanceM, sigmas }) => (
          <p key={other.id} className="row">
            <span>
              {t('findings.mergeNear', {
                label: labels.get(other.id) ?? other.id,
                m: numbers.fixed(distanceM, 2),
                s: numbers.significant(sigmas, 2),
              })}
            </span>
            <button
              type="button"
              className="keep-right"
              disabled={review.busy}
              onClick={() => void review.merge(row, [other], why)}
            >
              {t('findings.mergeInto', { label: labels.get(other.id) ?? other.id })}
            </button>
          </p>
        ))}
        {others.length > 0 && (
          <div>
            <button type="button" disabled={review.busy} onClick={() => void review.merge(row, others, why)}>
              {t('findings.mergeMarked', { label })}
            </button>
          </div>
        )}
      </section>
      <section>
        <h3>{t('findings.split')}</h3>
        {finding.sightingList.length < 2 ? (
          <p className="small soft">{t('findings.splitOne')}</p>
        ) : (
          <>
            <p className="small soft">{t('findings.splitHow')}</p>
            {finding.sightingList.map((sighting) => (
              <label key={sighting.id} className="tick">
                <input
                  type="checkbox"
                  checked={parted.has(sighting.id)}
                  onChange={() => {
                    const next = new Set(parted);
                    if (!next.delete(sighting.id)) next.add(sighting.id);
                    setParted(next);
                  }}
                />
                {t('findings.sighting', {
                  time: new Date(sighting.fromUtc).toLocaleTimeString(locale, { timeZone: 'UTC' }),
                  events: numbers.integer(sighting.events),
                  flight: sighting.flight,
                })}
              </label>
            ))}
            <div>
              <button
                type="button"
                disabled={review.busy || parted.size === 0 || parted.size === finding.sightingList.length}
                onClick={() => void review.split(row, [...parted], why)}
              >
                {t('findings.splitDo')}
              </button>
            </div>
          </>
        )}
      </section>
      <label className="field">
        {t('findings.why')}
        <input value={why} placeholder={t('findings.whyHint')} onChange={(event) => setWhy(event.target.value)} />
      </label>
    </details>
  );
}
