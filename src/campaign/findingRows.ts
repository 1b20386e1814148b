import type { Database } from 'better-sqlite3';
import type { Grade } from '../grade/Grade.ts';
import { placeAndStrength } from './dischargeRows.ts';
import { jsonColumn } from './jsonColumn.ts';
import type { LoggedAct } from './ReviewCommand.ts';
import type { DischargeRecord, EvidenceRecord, FindingRecord } from './records.ts';
import { ReadRow, type Row } from './tableRows.ts';

/** What the inspection said, before any reviewer. */
type Computed = Pick<FindingRecord, 'componentId' | 'componentProbability' | 'grade' | 'decision' | 'comment'>;

/** @param reviewed the finding with the reviewers' words on it, see `replayReview` */
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
    merged_into: reviewed.mergedInto ?? null,
    split_from: reviewed.splitFrom ?? null,
  };
}

export const findingOf = (row: ReadRow): FindingRecord => ({
  ...tiesOf(row),
  id: row.text('id'),
  componentId: row.textOrNull('component'),
  componentProbability: row.number('component_probability'),
  grade: row.json<Computed>('computed').grade,
  decision: row.text('decision') as FindingRecord['decision'],
  comment: row.text('comment'),
});

function tiesOf(row: ReadRow): Pick<FindingRecord, 'mergedInto' | 'splitFrom'> {
  const mergedInto = row.textOrNull('merged_into');
  const splitFrom = row.textOrNull('split_from');
  return { ...(mergedInto === null ? {} : { mergedInto }), ...(splitFrom === null ? {} : { splitFrom }) };
}

export const computedFindingOf = (row: ReadRow): FindingRecord => ({
  id: row.text('id'),
  ...row.json<Computed>('computed'),
});

/** Puts a grade made anew, or an earlier one taken up again, into a finding's row. Nothing where the finding is no more. */
export function regrade(db: Database, findingId: string, grade: Grade): void {
  const row = db.prepare('SELECT * FROM findings WHERE id = ?').get(findingId);
  if (row === undefined) return;
  const computed = new ReadRow('findings', row).json<Computed>('computed');
  db.prepare(
    'UPDATE findings SET priority = ?, expectedness = ?, advice = ?, rule = ?, reasoning = ?, computed = ? WHERE id = ?',
  ).run(
    grade.priority,
    grade.expectedness,
    grade.advice,
    grade.rule,
    grade.reasoning,
    jsonColumn({ ...computed, grade }),
    findingId,
  );
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

/** @param act the number of the first line that was written with this one; null for that line itself */
export const reviewRow = (line: Omit<LoggedAct, 'act' | 'line'>, act: number | null): Row => ({
  finding: line.findingId,
  at_utc: line.atUtc,
  who: line.who,
  what: line.what,
  value: line.value,
  position_enu_m: jsonColumn(line.positionEnuM),
  why: line.why,
  act,
  others: jsonColumn(line.others),
});

export const loggedActOf = (row: ReadRow): LoggedAct => ({
  findingId: row.text('finding'),
  atUtc: row.text('at_utc'),
  who: row.text('who'),
  what: row.text('what') as LoggedAct['what'],
  value: row.text('value'),
  why: row.text('why'),
  act: row.numberOrNull('act') ?? row.number('fid'),
  line: row.number('fid'),
  positionEnuM: row.json('position_enu_m'),
  others: row.json('others'),
});
