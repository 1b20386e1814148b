import type { FindingsAnswer } from '../server/answers.ts';

/** What findings are called, by id: F and the number that they have in the report too. */
export const labelsOf = ({ findings, merged }: FindingsAnswer): ReadonlyMap<string, string> =>
  new Map([...findings, ...merged].map((row) => [row.id, `F${row.number}`]));
