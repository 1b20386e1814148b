import { PASS_COUNT, type SystematicErrors } from './SystematicErrors.ts';

/** Where and when a sighting was made, as far as its errors are shared with others. */
export interface Occasion {
  /** Sightings of different flights share no trajectory error. */
  readonly flight: string;
  readonly tNs: number;
  readonly errors: SystematicErrors;
}

/**
 * Correlation of a pass-wise parameter (0-2 position, 3-5 attitude) between two occasions: exponential in their distance
 * in time, 0 between flights. Two sightings of one pass thus share nearly all of it, passes minutes apart nearly none.
 */
export function passCorrelation(a: Occasion, b: Occasion, parameter: number): number {
  if (a.flight !== b.flight) return 0;
  const seconds = Math.abs(a.tNs - b.tNs) * 1e-9;
  const time = parameter < 3 ? a.errors.positionCorrelationS : a.errors.attitudeCorrelationS;
  return time > 0 ? Math.exp(-seconds / time) : seconds === 0 ? 1 : 0;
}

/**
 * Root of the correlation over several occasions, as a chain in time: row i gives the weights of independent unit
 * normals 0..i in occasion i. Exact for exponential correlation, and well defined also at equal times.
 */
export function correlationRoot(occasions: readonly Occasion[], parameter: number): number[][] {
  const n = occasions.length;
  const root = Array.from({ length: n }, () => new Array<number>(n).fill(0));
  const order = [...occasions.keys()].sort(
    (i, j) => compare(occasions[i].flight, occasions[j].flight) || occasions[i].tNs - occasions[j].tNs || i - j,
  );
  order.forEach((i, k) => {
    const previous = order[k - 1];
    const rho = k === 0 ? 0 : passCorrelation(occasions[previous], occasions[i], parameter);
    if (k > 0) for (let c = 0; c < n; c++) root[i][c] = rho * root[previous][c];
    root[i][k] = Math.sqrt(Math.max(0, 1 - rho * rho));
  });
  return root;
}

const compare = (a: string, b: string): number => (a < b ? -1 : a > b ? 1 : 0);

/** All pass-wise parameters, as indices of the systematic ones. */
export const PASS_PARAMETERS = Array.from({ length: PASS_COUNT }, (_, i) => i);
