/**
 * A float32 array as NumPy's `.npy` (version 1.0, little-endian, C order).
 * Source: NumPy documentation, numpy.lib.format.
 */
export function npyFile(data: Float32Array, shape: readonly number[]): Uint8Array {
  const description = `{'descr': '<f4', 'fortran_order': False, 'shape': (${shape.join(', ')}${shape.length === 1 ? ',' : ''}), }`;
  // Magic, version and length take 10 bytes; the header ends in a line feed and on a multiple of 64.
  const length = Math.ceil((10 + description.length + 1) / 64) * 64;
  const header = `${description.padEnd(length - 11)}\n`;
  const bytes = new Uint8Array(length + 4 * data.length);
  bytes.set([0x93, ...new TextEncoder().encode('NUMPY'), 1, 0, (length - 10) & 0xff, (length - 10) >> 8]);
  bytes.set(new TextEncoder().encode(header), 10);
  writeFloats(bytes, length, data);
  return bytes;
}

/** Writes little-endian float32 values, whatever the machine's own order. */
export function writeFloats(bytes: Uint8Array, at: number, data: Float32Array): void {
  const view = new DataView(bytes.buffer, bytes.byteOffset);
  for (let i = 0; i < data.length; i++) view.setFloat32(at + 4 * i, data[i], true);
}
