import { distance } from '../../../../src/maths/vec3.ts';
import { reasonsInWords } from '../../../../src/report/reasonWords.ts';
import type { FindingAnswer } from '../../server/answers.ts';
import { useWords } from '../../words/useWords.ts';

export function Facts({ finding }: { finding: FindingAnswer }) {
  const { t, terms, told, numbers, locale } = useWords();
  const [lon, lat, height] = finding.positionLlh;
  const [a, b, c] = finding.halfAxes95M.map((m) => numbers.significant(m, 2));
  const when = (utc: string | null) =>
    utc === null ? '–' : new Date(utc).toLocaleString(locale, { timeZone: 'UTC', timeZoneName: 'short' });
  const pairs: [string, React.ReactNode][] = [
    [
      t('findings.rate'),
      <>
        {numbers.rate(finding.rate)}
        <span className="under small soft">
          {t('findings.counted', {
            n: numbers.integer(finding.rate.events),
            from: finding.rate.bandNm[0],
            to: finding.rate.bandNm[1],
          })}
        </span>
      </>,
    ],
    [
      t('findings.place'),
      <>
        {numbers.fixed(lat, 7)}°, {numbers.fixed(lon, 7)}°
        <span className="under small soft">{t('findings.height', { m: numbers.fixed(height, 2) })}</span>
      </>,
    ],
    [
      t('findings.position'),
      <>
        {t('findings.accuracy', {
          h: numbers.significant(finding.horizontal95.majorM, 2),
          v: numbers.significant(finding.vertical95M, 2),
        })}
        <span className="under small soft">
          {t('findings.ellipsoid', { a, b, c })}
          {finding.heldByLine && `; ${t('findings.heldByLine')}`}
          {finding.asMounted &&
            `; ${t('findings.asMounted', { m: numbers.significant(distance(finding.positionEnuM, finding.asMounted.positionEnuM), 2) })}`}
        </span>
      </>,
    ],
    [
      t('findings.seen'),
      <>
        {t('findings.seenValue', {
          rays: numbers.integer(finding.rays),
          passes: finding.passes,
          m: numbers.fixed(finding.nearestRangeM, 1),
        })}
        <span className="under small soft">
          {when(finding.firstSeenUtc)} – {when(finding.lastSeenUtc)}
        </span>
      </>,
    ],
    [t('findings.expected'), terms.expectedness[finding.expectedness]],
    [t('findings.rule'), told(finding.rule)],
    [t('findings.reasoning'), reasonsInWords(finding.reasons, finding.reasoning, terms, numbers)],
    [t('findings.advice'), told(finding.advice)],
  ];
  return (
    <section>
      <h2>{t('findings.facts')}</h2>
      <dl className="pairs">
        {pairs.map(([word, value]) => (
          <div key={word} className="pair">
            <dt>{word}</dt>
            <dd>{value}</dd>
          </div>
        ))}
      </dl>
    </section>
  );
}
