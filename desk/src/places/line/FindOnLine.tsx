import { useMemo, useState } from 'react';
import { sentenceCase } from '../../../../src/report/componentLabel.ts';
import type { FindingsAnswer, LineAnswer } from '../../server/answers.ts';
import type { ItemRef } from '../../sheet/SheetItems.ts';
import { useWords } from '../../words/useWords.ts';

const MOST_SHOWN = 60;

/** Everything on the line by name, so that the sheet needs no pointer. */
export function FindOnLine({
  line,
  findings,
  labels,
  onChoose,
}: {
  line: LineAnswer;
  findings: FindingsAnswer | null;
  labels: ReadonlyMap<string, string>;
  onChoose: (ref: ItemRef) => void;
}) {
  const { t, terms } = useWords();
  const [sought, setSought] = useState('');
  const all = useMemo(() => {
    const entries: { ref: ItemRef; name: string; about: string }[] = [];
    for (const row of findings?.findings ?? [])
      if (row.mergedInto === null)
        entries.push({
          ref: { kind: 'finding', id: row.id },
          name: labels.get(row.id) ?? row.id,
          about: `${terms.priorities[row.priority]}, ${row.componentId ?? terms.componentUnknown}`,
        });
    for (const s of line.structures)
      entries.push({
        ref: { kind: 'structure', id: s.id },
        name: s.id,
        about: t(s.kind === 'tension' ? 'line.legendTension' : 'line.legendSuspension'),
      });
    for (const c of [...line.components, ...line.conductors])
      entries.push({
        ref: { kind: 'component', id: c.id },
        name: c.id,
        about: `${sentenceCase(terms.kinds[c.kind])}: ${terms.states[c.coverage.state]}`,
      });
    return entries;
  }, [line, findings, labels, terms, t]);
  const wanted = sought.trim().toLowerCase();
  const matches = wanted
    ? all.filter((e) => e.name.toLowerCase().includes(wanted) || e.about.toLowerCase().includes(wanted))
    : [];
  return (
    <search className="find-on-line">
      <label className="field">
        {t('line.find')}
        <input
          type="search"
          value={sought}
          placeholder={t('line.findPlaceholder')}
          onChange={(event) => setSought(event.target.value)}
        />
      </label>
      {wanted && (
        <>
          <p className="small soft" role="status">
            {matches.length === 0 ? t('line.nothingFound') : t('line.resultCount', { count: matches.length })}
          </p>
          <ul className="matches">
            {matches.slice(0, MOST_SHOWN).map((entry) => (
              <li key={`${entry.ref.kind}:${entry.name}`}>
                <button type="button" className="plain" onClick={() => onChoose(entry.ref)}>
                  <span>{entry.name}</span>
                  <span className="small soft">{entry.about}</span>
                </button>
              </li>
            ))}
          </ul>
        </>
      )}
    </search>
  );
}
