import type { FindingRecord } from './records.ts';

/**
 * Findings are called F1, F2 ... in the order of their ids, those that a reviewer split off last: in the report, in every table, in the
 * desk, and whatever is decided, merged or split meanwhile.
 * @param all merged and rejected ones too, as a number is never given to another
 */
export function findingNumbers(all: readonly Pick<FindingRecord, 'id' | 'splitFrom'>[]): ReadonlyMap<string, number> {
  const ids = (split: boolean): string[] =>
    all
      .filter(({ splitFrom }) => (splitFrom !== undefined) === split)
      .map(({ id }) => id)
      .sort((a, b) => a.localeCompare(b, 'en', { numeric: true }));
  return new Map([...ids(false), ...ids(true)].map((id, i) => [id, i + 1]));
}
