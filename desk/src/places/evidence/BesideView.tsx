import { useMemo, useState } from 'react';
import type { EvidenceOfFinding, FindingAnswer } from '../../server/answers.ts';
import { Notice } from '../../shell/Notice.tsx';
import { useWords } from '../../words/useWords.ts';
import { KeptStage } from './KeptStage.tsx';

/** Metres of hardware that either picture shows. */
const WINDOW_M = 4;

/** Two pictures of one place, to one scale: this campaign and an earlier one, or two passes. */
export function BesideView({ finding }: { finding: FindingAnswer }) {
  const { t, numbers, locale } = useWords();
  const { last } = finding;
  const pictures = useMemo(() => {
    const when = (e: EvidenceOfFinding) =>
      new Date(e.utc).toLocaleString(locale, { timeZone: 'UTC', dateStyle: 'medium', timeStyle: 'medium' });
    return [
      ...finding.evidenceList.map((e) => ({
        key: `now ${e.number}`,
        evidence: e,
        name: t('evidence.besideThis', { utc: when(e), m: numbers.fixed(e.rangeM, 1) }),
      })),
      ...(last?.evidenceList ?? []).map((e) => ({
        key: `last ${e.number}`,
        evidence: e,
        name: t('evidence.besideLast', { campaign: last!.campaign, utc: when(e), m: numbers.fixed(e.rangeM, 1) }),
      })),
    ];
  }, [finding, last, t, numbers, locale]);
  const firstOfLast = pictures.findIndex((p) => p.key.startsWith('last'));
  const [chosen, setChosen] = useState<readonly [number, number]>([0, firstOfLast >= 0 ? firstOfLast : 1]);
  if (pictures.length < 2)
    return (
      <Notice kind="empty" title={t('evidence.viewBeside')}>
        <p>{t('evidence.besideNone')}</p>
        {!last && <p className="soft">{t('evidence.besideNoLast')}</p>}
      </Notice>
    );
  return (
    <div className="beside">
      {!last && <p className="small soft">{t('evidence.besideNoLast')}</p>}
      {last && (
        <p>
          <span className="soft">{t('evidence.besideRate')}</span>{' '}
          {numbers.rate({ rateHz: last.rateHz, interval: last.rateInterval })} →{' '}
          <strong>{numbers.rate({ rateHz: finding.rateHz, interval: finding.rateInterval })}</strong>
        </p>
      )}
      <div className="pair-of-stages">
        {([0, 1] as const).map((side) => {
          const picture = pictures[chosen[side]] ?? pictures[0]!;
          return (
            <figure key={side}>
              <label className="field">
                {t(side === 0 ? 'evidence.besideFirst' : 'evidence.besideSecond')}
                <select
                  value={chosen[side]}
                  onChange={(event) => {
                    const next = Number(event.target.value);
                    setChosen(side === 0 ? [next, chosen[1]] : [chosen[0], next]);
                  }}
                >
                  {pictures.map((p, i) => (
                    <option key={p.key} value={i}>
                      {p.name}
                    </option>
                  ))}
                </select>
              </label>
              <KeptStage key={picture.key} evidence={picture.evidence} windowM={WINDOW_M} />
            </figure>
          );
        })}
      </div>
      <p className="small soft">{t('evidence.besideScale')}</p>
    </div>
  );
}
