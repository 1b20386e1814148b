import { useState } from 'react';
import type { FindingAnswer, FindingRow, LineAnswer } from '../../server/answers.ts';
import { useResource } from '../../server/resource.ts';
import { useWords } from '../../words/useWords.ts';
import type { Review } from './useReview.ts';

const NONE = ' none';
const OTHER = ' other';

/** The candidates with their probabilities; a reviewer who knows better puts the finding elsewhere. */
export function ComponentChoice({
  finding,
  row,
  review,
  mayWrite,
}: {
  finding: FindingAnswer;
  row: FindingRow;
  review: Review;
  mayWrite: boolean;
}) {
  const { t, terms, told, numbers } = useWords();
  const line = useResource<LineAnswer>(mayWrite ? '/api/line' : null);
  const standing = row.componentId ?? NONE;
  const [chosen, setChosen] = useState(standing);
  const [other, setOther] = useState('');
  const [why, setWhy] = useState('');
  const candidates = finding.candidates.filter((c) => c.componentId !== null);
  const names =
    line.state === 'ready' ? [...line.data.components, ...line.data.conductors].map((component) => component.id) : [];
  const wanted = chosen === OTHER ? other : chosen === NONE ? null : chosen;
  const known = chosen !== OTHER || names.includes(other);
  const options = [
    ...(candidates.some((c) => c.componentId === row.componentId) || row.componentId === null
      ? []
      : [{ id: row.componentId, text: '' }]),
    ...candidates.map((c) => ({
      id: c.componentId!,
      text: t('findings.candidate', {
        p: numbers.percent(c.probability),
        m: numbers.fixed(c.distanceM, 2),
        disc: c.disc === null ? '' : t('findings.candidateDisc', { n: c.disc }),
      }),
    })),
  ];
  const none = finding.candidates.find((c) => c.componentId === null);
  return (
    <fieldset className="component-choice">
      <legend>{t('findings.component')}</legend>
      {options.map(({ id, text }) => (
        <label key={id} className="tick">
          <input
            type="radio"
            name="component"
            checked={chosen === id}
            disabled={!mayWrite}
            onChange={() => setChosen(id)}
          />
          <span>
            {id} <span className="soft small">{text}</span>
          </span>
        </label>
      ))}
      <label className="tick">
        <input
          type="radio"
          name="component"
          checked={chosen === NONE}
          disabled={!mayWrite}
          onChange={() => setChosen(NONE)}
        />
        <span>
          {t('findings.componentNone')}{' '}
          {none && <span className="soft small">{numbers.percent(none.probability)}</span>}
        </span>
      </label>
      {mayWrite && (
        <label className="tick">
          <input type="radio" name="component" checked={chosen === OTHER} onChange={() => setChosen(OTHER)} />
          {t('findings.componentOther')}
        </label>
      )}
      {chosen === OTHER && (
        <label className="field">
          {t('findings.componentOtherName')}
          <input
            list="components-of-line"
            value={other}
            onChange={(event) => setOther(event.target.value)}
            aria-invalid={other !== '' && !known}
          />
          <datalist id="components-of-line">
            {names.map((name) => (
              <option key={name} value={name} />
            ))}
          </datalist>
          {other !== '' && !known && <span className="small">{t('findings.componentUnknownName')}</span>}
        </label>
      )}
      {finding.restProbability > 0 && (
        <p className="small soft">{t('findings.rest', { p: numbers.percent(finding.restProbability) })}</p>
      )}
      {finding.attributionAdvice && <p className="small soft">{told(finding.attributionAdvice)}</p>}
      {mayWrite && chosen !== standing && (
        <>
          <label className="field">
            {t('findings.why')}
            <input value={why} placeholder={t('findings.whyHint')} onChange={(event) => setWhy(event.target.value)} />
          </label>
          <div>
            <button
              type="button"
              disabled={!known || wanted === '' || review.busy}
              onClick={() => void review.putOn(row, wanted, why)}
            >
              {t('findings.componentSave')}
            </button>
          </div>
        </>
      )}
      {!mayWrite && row.componentId === null && <p className="soft">{terms.componentUnknown}</p>}
    </fieldset>
  );
}
