import { PRIORITIES } from '../../../../src/grade/Grade.ts';
import type { FindingRow } from '../../server/answers.ts';

export const COLUMNS = [
  'number',
  'priority',
  'decision',
  'component',
  'probability',
  'rate',
  'place',
  'accuracy',
  'passes',
  'queue',
] as const;
export type ColumnName = (typeof COLUMNS)[number];
export interface SortBy {
  readonly column: ColumnName;
  readonly descending: boolean;
}

const DECISIONS = ['open', 'confirmed', 'rejected'];
const numberIn = (label: string | undefined): number => Number(label?.slice(1) ?? Number.POSITIVE_INFINITY);

/** Rows in a new order; equal ones stay as they were. What has no value comes last either way. */
export function sorted(
  rows: readonly FindingRow[],
  { column, descending }: SortBy,
  labels: ReadonlyMap<string, string>,
): FindingRow[] {
  const sortValueOf = (row: FindingRow): number | string | null => {
    switch (column) {
      case 'number':
        return numberIn(labels.get(row.id));
      case 'priority':
        return PRIORITIES.indexOf(row.priority);
      case 'decision':
        return DECISIONS.indexOf(row.decision);
      case 'component':
        return row.componentId;
      case 'probability':
        return row.componentProbability;
      case 'place':
        return row.alongM;
      case 'rate':
        return row.rateHz;
      case 'accuracy':
        return row.horizontal95.majorM;
      case 'passes':
        return row.passes;
      case 'queue':
        return row.queuePlace;
    }
  };
  const sign = descending ? -1 : 1;
  return rows
    .map((row, i) => ({ row, i, value: sortValueOf(row) }))
    .sort((a, b) => {
      if (a.value === b.value) return a.i - b.i;
      if (a.value === null) return 1;
      if (b.value === null) return -1;
      if (typeof a.value === 'string' || typeof b.value === 'string')
        return sign * String(a.value).localeCompare(String(b.value), undefined, { numeric: true });
      return sign * (a.value - b.value);
    })
    .map(({ row }) => row);
}
