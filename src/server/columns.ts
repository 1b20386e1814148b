import type { ColumnsHead } from './api/flights.ts';

type Column = Float64Array | Float32Array | Uint32Array | Int32Array | Uint16Array | Uint8Array;

const TYPE_OF = new Map<unknown, ColumnsHead['columns'][number]['type']>([
  [Float64Array, 'float64'],
  [Float32Array, 'float32'],
  [Uint32Array, 'uint32'],
  [Int32Array, 'int32'],
  [Uint16Array, 'uint16'],
  [Uint8Array, 'uint8'],
]);

export const COLUMNS_TYPE = 'application/vnd.corposant.columns';

/** Columns start at multiples of this, so that a browser can look at them in place. */
const ALIGNMENT_BYTES = 8;
const aligned = (bytes: number): number => Math.ceil(bytes / ALIGNMENT_BYTES) * ALIGNMENT_BYTES;

/**
 * One binary answer of named columns, laid out as `columnsHead` says. Numbers are little-endian, as in the memory of every
 * processor that Node runs on.
 */
export function columnsBytes(
  kind: string,
  count: number,
  columns: Readonly<Record<string, Column>>,
  about: Readonly<Record<string, unknown>> = {},
): Buffer {
  const headWith = (startBytes: number): string => {
    let at = startBytes;
    const listed = Object.entries(columns).map(([name, column]) => {
      const offsetBytes = at;
      at += aligned(column.byteLength);
      const width = count === 0 ? 1 : column.length / count;
      return { name, type: TYPE_OF.get(column.constructor)!, width, offsetBytes };
    });
    return JSON.stringify({ kind, count, columns: listed, about } satisfies ColumnsHead);
  };
  // Offsets are part of the head whose length they depend on: settle it with room for the largest.
  const roomBytes = Buffer.byteLength(headWith(2 ** 40));
  const startBytes = aligned(4 + roomBytes);
  const head = headWith(startBytes);
  const totalBytes = Object.values(columns).reduce((sum, column) => sum + aligned(column.byteLength), startBytes);
  const out = Buffer.alloc(totalBytes);
  out.writeUInt32LE(startBytes - 4, 0);
  out.fill(0x20, 4, startBytes);
  out.write(head, 4, 'utf8');
  let at = startBytes;
  for (const column of Object.values(columns)) {
    out.set(new Uint8Array(column.buffer, column.byteOffset, column.byteLength), at);
    at += aligned(column.byteLength);
  }
  return out;
}
