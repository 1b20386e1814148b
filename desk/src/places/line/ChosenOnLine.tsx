import { sentenceCase } from '../../../../src/report/componentLabel.ts';
import type { FindingsAnswer, LineAnswer, SightingsAnswer } from '../../server/answers.ts';
import type { ItemRef } from '../../sheet/SheetItems.ts';
import { hashOf } from '../../shell/route.ts';
import { useWords } from '../../words/useWords.ts';

type Pair = [string, React.ReactNode];

/** What is known of the thing that was chosen on the sheet. */
export function ChosenOnLine({
  chosen,
  line,
  findings,
  labels,
  sightings,
  onChoose,
  onShow,
}: {
  chosen: ItemRef;
  line: LineAnswer;
  findings: FindingsAnswer | null;
  labels: ReadonlyMap<string, string>;
  sightings: SightingsAnswer | null;
  onChoose: (ref: ItemRef | null) => void;
  onShow: (ref: ItemRef) => void;
}) {
  const { t, terms, told, numbers, locale } = useWords();
  const findingLinks = (ids: readonly string[]) => (
    <span className="row">
      {ids.map((id) => (
        <button key={id} type="button" onClick={() => onChoose({ kind: 'finding', id })}>
          {labels.get(id) ?? id}
        </button>
      ))}
    </span>
  );
  let title = '';
  const pairs: Pair[] = [];
  if (chosen.kind === 'structure') {
    const s = line.structures.find((structure) => structure.id === chosen.id);
    if (!s) return null;
    title = `${t('line.structure')} ${s.id}`;
    const own = line.components.filter((c) => c.structureIds.length === 1 && c.structureIds[0] === s.id);
    pairs.push(
      [t('line.structureKind'), t(s.kind === 'tension' ? 'line.tension' : 'line.suspension')],
      [t('line.heightM'), t('line.metres', { m: numbers.fixed(s.heightM, 1) })],
      [t('line.components'), numbers.integer(own.length)],
    );
    const ids = own.flatMap((c) => c.findingIds);
    if (ids.length > 0) pairs.push([t('line.findingsHere'), findingLinks(ids)]);
  } else if (chosen.kind === 'component') {
    const c = [...line.components, ...line.conductors].find((component) => component.id === chosen.id);
    if (!c) return null;
    title = c.id;
    const { coverage } = c;
    pairs.push([t('line.colKind'), sentenceCase(terms.kinds[c.kind])]);
    if (c.circuit || c.phase) pairs.push([t('line.circuitPhase'), [c.circuit, c.phase].filter(Boolean).join(', ')]);
    pairs.push([t('line.state'), terms.states[coverage.state]]);
    if (coverage.limitHz !== null) pairs.push([t('line.limit'), numbers.limit(coverage.limitHz)]);
    pairs.push([t('line.frames'), numbers.integer(coverage.framesInView)]);
    if (coverage.nearestRangeM !== null)
      pairs.push([t('line.nearest'), t('line.metres', { m: numbers.fixed(coverage.nearestRangeM, 1) })]);
    if (coverage.reasons.length > 0) pairs.push([t('line.reasons'), coverage.reasons.map(told).join('; ')]);
    if (c.findingIds.length > 0) pairs.push([t('line.findingsHere'), findingLinks(c.findingIds)]);
  } else if (chosen.kind === 'finding') {
    const row = findings?.findings.find((finding) => finding.id === chosen.id);
    if (!row) return null;
    title = t('line.openFinding', { label: labels.get(row.id) ?? row.id });
    pairs.push(
      [terms.priority, sentenceCase(terms.priorities[row.priority])],
      [terms.blockReview, terms.decisions[row.decision]],
      [
        terms.colComponent,
        row.componentId ? (
          <button key="c" type="button" onClick={() => onChoose({ kind: 'component', id: row.componentId! })}>
            {row.componentId}
          </button>
        ) : (
          terms.componentUnknown
        ),
      ],
      [t('line.probability'), numbers.percent(row.componentProbability)],
      [t('line.rate'), numbers.rate({ rateHz: row.rateHz, interval: row.rateInterval })],
      [
        t('line.position95'),
        t('line.positionValue', {
          h: numbers.significant(row.horizontal95.majorM, 2),
          v: numbers.significant(row.vertical95M, 2),
        }),
      ],
    );
  } else {
    if (!sightings) return null;
    const i = chosen.index;
    title = `${t('line.sighting')} ${sightings.id[i]}`;
    const bits = sightings.suspicions[i] ?? 0;
    const why = sightings.suspicionNames.filter((_, b) => bits & (1 << b)).map((s) => terms.suspicions[s]);
    const finding = sightings.findingId[i];
    pairs.push(
      [terms.colFlight, sightings.flights[sightings.flight[i]!]],
      [
        terms.seen,
        new Date(sightings.fromUtcMs[i]!).toLocaleString(locale, { timeZone: 'UTC', timeZoneName: 'short' }),
      ],
      [
        t('line.strength'),
        t('line.events', {
          events: numbers.fixed(sightings.events[i]!, 1),
          frames: numbers.integer(sightings.framesInView[i]!),
        }),
      ],
      [t('line.partOf'), finding ? findingLinks([finding]) : t('line.notPlaced')],
    );
    if (why.length > 0) pairs.push([t('line.why'), why.join(', ')]);
  }
  return (
    <section className="chosen" aria-live="polite">
      <h2>{title}</h2>
      <dl className="pairs">
        {pairs.map(([word, value]) => (
          <div key={word} className="pair">
            <dt>{word}</dt>
            <dd>{value}</dd>
          </div>
        ))}
      </dl>
      <div className="row">
        {chosen.kind === 'finding' && (
          <>
            <a className="button" href={hashOf('evidence', chosen.id)}>
              {t('line.toEvidence')}
            </a>
            <a className="button" href={hashOf('findings', chosen.id)}>
              {t('line.toFindings')}
            </a>
          </>
        )}
        <button type="button" onClick={() => onShow(chosen)}>
          {t('line.showIt')}
        </button>
        <button type="button" className="plain" onClick={() => onChoose(null)}>
          {t('line.clearChoice')}
        </button>
      </div>
    </section>
  );
}
