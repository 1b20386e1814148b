import { type LookUpTable, TABLE_CHANNELS } from '../../../src/rig/lookUpTable.ts';
import { readColumns } from '../server/columns.ts';

/** The mapping's table from the server's answer; `about` carries what a look-up needs besides the nodes. */
export function tableOf(bytes: ArrayBuffer): LookUpTable {
  const { head, column } = readColumns(bytes);
  const about = head.about as Omit<LookUpTable, 'data'>;
  const data = column('nodes', 'float32');
  if (data.length !== about.rows * about.columns * TABLE_CHANNELS)
    throw new Error(`The table has ${data.length} values for ${about.rows} x ${about.columns} nodes.`);
  return { ...about, data };
}
