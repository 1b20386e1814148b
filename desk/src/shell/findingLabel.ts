import type { FindingRow, FindingsAnswer } from '../server/answers.ts';

/** Findings are called F1, F2 ... in the order of the server's list, as in the report. */
export function labelsOf(answer: FindingsAnswer): ReadonlyMap<string, string> {
  return new Map(answer.findings.map((row, i) => [row.id, `F${i + 1}`]));
}

export const labelIn = (labels: ReadonlyMap<string, string>, row: Pick<FindingRow, 'id'>): string =>
  labels.get(row.id) ?? row.id;
