/** The largest length of 1, 2 or 5 times a power of ten that is no longer than `mostM`. */
export function roundLengthM(mostM: number): number {
  if (!(mostM > 0)) throw new RangeError(`roundLengthM: ${mostM} m has no round length below it`);
  const decade = 10 ** Math.floor(Math.log10(mostM));
  for (const digit of [5, 2]) if (digit * decade <= mostM) return digit * decade;
  return decade;
}
