/** Columns of numbers inside JSON: eight or four bytes a number, little-endian, in base64, so that every bit comes back. */
type Packed = { readonly f64: string } | { readonly i32: string };

const base64 = (array: Float64Array | Int32Array): string =>
  Buffer.from(array.buffer, array.byteOffset, array.byteLength).toString('base64');

/** JSON text of a value that holds Float64Array and Int32Array; numbers outside them must be finite. */
export function packedJson(value: unknown): string {
  return JSON.stringify(value, (key, inner) => {
    if (inner instanceof Float64Array) return { f64: base64(inner) } satisfies Packed;
    if (inner instanceof Int32Array) return { i32: base64(inner) } satisfies Packed;
    if (typeof inner === 'number' && !Number.isFinite(inner))
      throw new RangeError(`${key} is ${inner} and cannot be stored`);
    return inner;
  });
}

export function unpackedJson<T>(text: string): T {
  return JSON.parse(text, (_, inner) => {
    if (inner === null || typeof inner !== 'object') return inner;
    const keys = Object.keys(inner);
    if (keys.length !== 1 || typeof inner[keys[0]] !== 'string') return inner;
    if (keys[0] !== 'f64' && keys[0] !== 'i32') return inner;
    const bytes = Uint8Array.from(Buffer.from(inner[keys[0]], 'base64'));
    return keys[0] === 'f64' ? new Float64Array(bytes.buffer) : new Int32Array(bytes.buffer);
  }) as T;
}
