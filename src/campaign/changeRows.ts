import type { Grade } from '../grade/Grade.ts';
import { reasonInEnglish } from '../grade/reasonsInEnglish.ts';
import { evidenceOf, evidenceRow } from './findingRows.ts';
import { pointZ } from './geopackageGeometry.ts';
import { jsonColumn } from './jsonColumn.ts';
import type { ChangeRecord, ComparisonRecord, EvidenceRecord, Llh } from './records.ts';
import { ReadRow, type Row } from './tableRows.ts';

export function comparisonRow(comparison: ComparisonRecord): Row {
  const { rules, remarks } = comparison;
  return {
    earlier_campaign: comparison.earlierCampaign,
    earlier_from_utc: comparison.earlierFromUtc,
    earlier_to_utc: comparison.earlierToUtc,
    earlier_result_sha256: comparison.earlierResultHash,
    result_sha256: comparison.resultHash,
    software: comparison.software,
    parameters: jsonColumn(comparison.parameters),
    about: jsonColumn({ rules, remarks }),
  };
}

export const comparisonOf = (row: ReadRow): ComparisonRecord => ({
  earlierCampaign: row.text('earlier_campaign'),
  earlierFromUtc: row.text('earlier_from_utc'),
  earlierToUtc: row.text('earlier_to_utc'),
  earlierResultHash: row.text('earlier_result_sha256'),
  resultHash: row.text('result_sha256'),
  software: row.text('software'),
  parameters: row.json('parameters'),
  ...row.json<Pick<ComparisonRecord, 'rules' | 'remarks'>>('about'),
});

/** Plain columns for the map, the whole record as JSON beside them. A picture's bytes stand apart from its words. */
export function changeRow(change: ChangeRecord, picture: EvidenceRecord | undefined, gradeBefore: Grade | null): Row {
  const { earlierId, laterId, componentId, positionLlh, rate } = change;
  const pictureCells = picture === undefined ? null : evidenceRow(picture);
  const { colour_jpeg = null, ...pictureAbout } = pictureCells ?? {};
  return {
    geom: pointZ(positionLlh),
    finding: laterId,
    earlier_finding: earlierId,
    component: componentId,
    change: change.change,
    because: reasonInEnglish(change.because),
    rate_ratio: rate?.ratio ?? null,
    ratio_lower95: rate?.lower ?? null,
    ratio_upper95: rate && Number.isFinite(rate.upper) ? rate.upper : null,
    probability: change.probability,
    adjusted_probability: change.adjustedProbability,
    about: jsonColumn({
      change: finite(change),
      picture: pictureCells === null ? null : pictureAbout,
      gradeBefore,
    } satisfies About),
    earlier_picture: colour_jpeg,
  };
}

/** A rate without an upper end has the largest number instead: JSON knows no infinity. */
const finite = (change: ChangeRecord): ChangeRecord =>
  change.rate === null || Number.isFinite(change.rate.upper)
    ? change
    : { ...change, rate: { ...change.rate, upper: Number.MAX_VALUE } };

interface About {
  readonly change: ChangeRecord;
  readonly picture: Record<string, unknown> | null;
  /** Of the inspection, before the change was known; null where there is no finding in this campaign. */
  readonly gradeBefore: Grade | null;
}

export const gradeBeforeOf = (row: ReadRow): Grade | null => row.json<About>('about').gradeBefore;

export const changeOf = (row: ReadRow): ChangeRecord => ({
  ...row.json<About>('about').change,
  positionLlh: row.positions()[0] as Llh,
});

export function earlierPictureOf(row: ReadRow): EvidenceRecord | null {
  const { picture } = row.json<About>('about');
  return picture === null
    ? null
    : evidenceOf(new ReadRow('changes', { ...picture, colour_jpeg: row.bytes('earlier_picture') }));
}
