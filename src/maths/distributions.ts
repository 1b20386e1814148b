import cephes from 'cephes';

// In a browser the library compiles asynchronously; in Node this resolves at once.
await cephes.compiled;

/** P(X <= x) of the standard normal law. */
export const normalCdf = (x: number): number => cephes.ndtr(x);

/** The x with P(X <= x) = p, 0 < p < 1, standard normal. */
export const normalQuantile = (p: number): number => cephes.ndtri(p);

/** P(X > x) of chi-square with the given degrees of freedom. */
export const chiSquareTail = (x: number, degreesOfFreedom: number): number =>
  x <= 0
    ? 1
    : isBeyondNumbers(degreesOfFreedom / 2, x / 2) && x > degreesOfFreedom
      ? 0
      : cephes.chdtrc(degreesOfFreedom, x);

/** The x with P(X <= x) = p, chi-square. Give p, not 1 - p: the library inverts the upper tail, which we form here. */
export const chiSquareQuantile = (p: number, degreesOfFreedom: number): number =>
  cephes.chdtri(degreesOfFreedom, 1 - p);

/** P(N >= n) for a Poisson count of the given mean; 1 for n <= 0. Keeps its digits far out in the tail. */
export function poissonTail(n: number, mean: number): number {
  if (n <= 0) return 1;
  if (mean <= 0) return 0;
  return isBeyondNumbers(n, mean) ? (n > mean ? 0 : 1) : cephes.igam(n, mean);
}

/** P(N <= n) for a Poisson count of the given mean. */
export function poissonCdf(n: number, mean: number): number {
  if (n < 0) return 0;
  if (mean <= 0) return 1;
  return mean > n + 1 && isBeyondNumbers(n + 1, mean) ? 0 : cephes.igamc(n + 1, mean);
}

/** Whether the density of the gamma law of shape a at x, and the tail beyond it, is below what a double holds; the library throws there. */
const isBeyondNumbers = (a: number, x: number): boolean => a * Math.log(x) - x - cephes.lgam(a) < -690;

/** The regularised incomplete beta function I_x(a, b). */
export const betaCdf = (x: number, a: number, b: number): number => cephes.incbet(a, b, x);

/** ln Gamma(x), x > 0. */
export const logGamma = (x: number): number => cephes.lgam(x);
