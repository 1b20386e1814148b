/**
 * Text of a nested value for a JSON column; every finite number comes back bit by bit (except that -0 becomes 0).
 * @throws RangeError for NaN and infinities, which JSON would turn into null without a word
 */
export function jsonColumn(value: unknown): string {
  return JSON.stringify(value, (key, inner) => {
    if (typeof inner === 'number' && !Number.isFinite(inner))
      throw new RangeError(`${key} is ${inner} and cannot be stored`);
    return inner;
  });
}
