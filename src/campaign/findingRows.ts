import { placeAndStrength } from './dischargeRows.ts';
import { jsonColumn } from './jsonColumn.ts';
import type { DischargeRecord, EvidenceRecord, FindingRecord, ReviewEntry } from './records.ts';
import type { ReadRow, Row } from './tableRows.ts';

/** What the inspection said, before any reviewer. */
type Computed = Pick<FindingRecord, 'componentId' | 'componentProbability' | 'grade' | 'decision' | 'comment'>;

/** @param reviewed the finding with the reviewers' words on it, see `withReview` */
export function findingRow(
  reviewed: FindingRecord,
  asComputed: FindingRecord,
  discharge: DischargeRecord,
  flight: string,
): Row {
  const { componentId, componentProbability, grade, decision, comment } = asComputed;
  const computed: Computed = { componentId, componentProbability, grade, decision, comment };
  return {
    ...placeAndStrength(discharge),
    id: reviewed.id,
    flight,
    priority: grade.priority,
    component: reviewed.componentId,
    component_probability: reviewed.componentProbability,
    decision: reviewed.decision,
    comment: reviewed.comment,
    expectedness: grade.expectedness,
    advice: grade.advice,
    rule: grade.rule,
    reasoning: grade.reasoning,
    computed: jsonColumn(computed),
  };
}

export const findingOf = (row: ReadRow): FindingRecord => ({
  id: row.text('id'),
  componentId: row.textOrNull('component'),
  componentProbability: row.number('component_probability'),
  grade: row.json<Computed>('computed').grade,
  decision: row.text('decision') as FindingRecord['decision'],
  comment: row.text('comment'),
});

export const computedFindingOf = (row: ReadRow): FindingRecord => ({
  id: row.text('id'),
  ...row.json<Computed>('computed'),
});

/**
 * A finding with the words of its reviewers laid over it, in the order of the log. Another component keeps the probability
 * that the measurement gives it (0 where it was no candidate): a decision is not a measurement. A decision given
 * without a word keeps the comment that stands.
 */
export function withReview(
  finding: FindingRecord,
  discharge: DischargeRecord,
  entries: readonly ReviewEntry[],
): FindingRecord {
  let reviewed = finding;
  for (const { what, value } of entries) {
    if (what === 'component') {
      const componentId = value === '' ? null : value;
      const candidate = discharge.attribution.candidates.find((one) => one.componentId === componentId);
      reviewed = { ...reviewed, componentId, componentProbability: candidate?.probability ?? 0 };
      continue;
    }
    const decision = what === 'comment' ? reviewed.decision : what === 'reopened' ? 'open' : what;
    reviewed = { ...reviewed, decision, comment: value === '' ? reviewed.comment : value };
  }
  return reviewed;
}

export const evidenceRow = (evidence: EvidenceRecord): Row => {
  const { findingId, flight, utc, colourFrame, rangeM, colourJpeg, ...about } = evidence;
  return {
    finding: findingId,
    flight,
    utc,
    colour_frame: colourFrame,
    range_m: rangeM,
    about: jsonColumn(about),
    colour_jpeg: Buffer.from(colourJpeg.buffer, colourJpeg.byteOffset, colourJpeg.byteLength),
  };
};

type About = Omit<EvidenceRecord, 'findingId' | 'flight' | 'utc' | 'colourFrame' | 'rangeM' | 'colourJpeg'>;

export const evidenceOf = (row: ReadRow): EvidenceRecord => ({
  findingId: row.text('finding'),
  flight: row.text('flight'),
  utc: row.text('utc'),
  colourFrame: row.number('colour_frame'),
  rangeM: row.number('range_m'),
  colourJpeg: row.bytes('colour_jpeg'),
  ...row.json<About>('about'),
});

export const reviewRow = (entry: ReviewEntry): Row => ({
  finding: entry.findingId,
  at_utc: entry.atUtc,
  who: entry.who,
  what: entry.what,
  value: entry.value,
});

export const reviewEntryOf = (row: ReadRow): ReviewEntry => ({
  findingId: row.text('finding'),
  atUtc: row.text('at_utc'),
  who: row.text('who'),
  what: row.text('what') as ReviewEntry['what'],
  value: row.text('value'),
});
