/** Arithmetic mean; NaN for no values. */
export const mean = (values: ArrayLike<number>): number => {
  let sum = 0;
  for (let i = 0; i < values.length; i++) sum += values[i];
  return sum / values.length;
};

/** Quantile by linear interpolation between order statistics (Hyndman & Fan 1996, type 7); NaN for no values. */
export function quantile(values: ArrayLike<number>, p: number): number {
  if (values.length === 0) return Number.NaN;
  const sorted = Float64Array.from(values).sort();
  const at = p * (sorted.length - 1);
  const low = Math.floor(at);
  return sorted[low] + (sorted[Math.ceil(at)] - sorted[low]) * (at - low);
}
