import type { ColumnsHead } from './answers.ts';

const KINDS = {
  float64: Float64Array,
  float32: Float32Array,
  uint32: Uint32Array,
  int32: Int32Array,
  uint16: Uint16Array,
  uint8: Uint8Array,
} as const;
type Kind = keyof typeof KINDS;
export type Column<K extends Kind> = InstanceType<(typeof KINDS)[K]>;

export interface Columns {
  readonly head: ColumnsHead;
  /** A view of the answer, not a copy; a column that is missing or of another type is a fault of the server. */
  column<K extends Kind>(name: string, type: K): Column<K>;
}

/** A binary answer: length of the head (u32, little endian), head in JSON, columns at multiples of 8 bytes. */
export function readColumns(bytes: ArrayBuffer): Columns {
  const length = new DataView(bytes).getUint32(0, true);
  const head = JSON.parse(new TextDecoder().decode(new Uint8Array(bytes, 4, length))) as ColumnsHead;
  return {
    head,
    column<K extends Kind>(name: string, type: K): Column<K> {
      const about = head.columns.find((c) => c.name === name);
      if (about?.type !== type) throw new Error(`The answer has no column ${name} of type ${type}.`);
      return new KINDS[type](bytes, about.offsetBytes, head.count * about.width) as Column<K>;
    },
  };
}
