import type { FindingRow, FindingsAnswer } from '../server/answers.ts';

/**
 * Findings are called F1, F2 ... in the order of their ids, those that a reviewer split off last: a name stays with its finding
 * when others are decided, merged or split.
 */
export function labelsOf({ findings, merged }: FindingsAnswer): ReadonlyMap<string, string> {
  const byId = (a: FindingRow, b: FindingRow) => a.id.localeCompare(b.id, 'en', { numeric: true });
  const all = [...findings, ...merged];
  const found = all.filter((row) => row.splitFrom === null).sort(byId);
  const split = all.filter((row) => row.splitFrom !== null).sort(byId);
  return new Map([...found, ...split].map((row, i) => [row.id, `F${i + 1}`]));
}
