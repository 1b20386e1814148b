import { trace } from '../maths/mat3.ts';
import type { Vec3 } from '../maths/vec3.ts';
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

/** @param discharge as the reviewer saw it */
export const reviewRow = (entry: ReviewEntry, discharge: DischargeRecord): Row => ({
  finding: entry.findingId,
  at_utc: entry.atUtc,
  who: entry.who,
  what: entry.what,
  value: entry.value,
  position_enu_m: jsonColumn(discharge.positionEnuM),
});

export const reviewEntryOf = (row: ReadRow): ReviewEntry => ({
  findingId: row.text('finding'),
  atUtc: row.text('at_utc'),
  who: row.text('who'),
  what: row.text('what') as ReviewEntry['what'],
  value: row.text('value'),
});

/**
 * Whether a word of the log was about this discharge: the same id at the same place. A new inspection may number its
 * discharges otherwise, and a decision must never move to another place; it then stays in the log alone. Same place:
 * within 3 sigma of the difference of two positions as uncertain as this one.
 */
export function isAbout(logRow: ReadRow, discharge: DischargeRecord): boolean {
  if (logRow.text('finding') !== discharge.id) return false;
  const then = logRow.json<Vec3>('position_enu_m');
  const squaredM2 = then.reduce((sum, x, axis) => sum + (x - discharge.positionEnuM[axis]) ** 2, 0);
  return squaredM2 <= 9 * 2 * trace(discharge.covarianceEnuM2);
}
