import type { FindingRow } from '../../server/answers.ts';

export interface Filter {
  readonly words: string;
  readonly priority: FindingRow['priority'] | null;
  readonly decision: FindingRow['decision'] | null;
  readonly queueOnly: boolean;
}

export const emptyFilter: Filter = { words: '', priority: null, decision: null, queueOnly: false };

/** Every word has to be somewhere in what the row shows. */
export function passes(row: FindingRow, label: string, filter: Filter): boolean {
  if (filter.priority !== null && row.priority !== filter.priority) return false;
  if (filter.decision !== null && row.decision !== filter.decision) return false;
  if (filter.queueOnly && row.queuePlace === null) return false;
  const text =
    `${label} ${row.id} ${row.componentId ?? ''} ${row.componentKind ?? ''} ${row.structureIds.join(' ')} ${row.comment}`.toLowerCase();
  return filter.words
    .toLowerCase()
    .split(/\s+/)
    .every((word) => text.includes(word));
}
