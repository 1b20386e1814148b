import type { ColumnsHead } from './api/flights.ts';

const READ = {
  float64: Float64Array,
  float32: Float32Array,
  uint32: Uint32Array,
  int32: Int32Array,
  uint16: Uint16Array,
  uint8: Uint8Array,
};

/** Reads a binary answer by what docs/server.md says of it, without the code that wrote it. */
export function readColumns(bytes: ArrayBuffer): { head: ColumnsHead; column(name: string): number[] } {
  const view = new DataView(bytes);
  const head = JSON.parse(new TextDecoder().decode(new Uint8Array(bytes, 4, view.getUint32(0, true)))) as ColumnsHead;
  return {
    head,
    column(name) {
      const { type, width, offsetBytes } = head.columns.find((one) => one.name === name)!;
      return [...new READ[type](bytes, offsetBytes, width * head.count)];
    },
  };
}
