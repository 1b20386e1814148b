/**
 * Variance, at the fraction `at` of a bridge of 1 s, of a motion driven by white acceleration of power density 1 and
 * pinned at both ends: in position and velocity (at³ (1 - at)³ / 3), or in position alone with the speed unknown
 * (at² (1 - at)² / 3). Grows with the third power of the length. Source: conditioning of the integrated Wiener
 * process; the cubic Hermite is its mean (Wahba 1978, J. R. Stat. Soc. B 40, 364, from memory).
 */
export function bridgeFactor(at: number, velocityPinned: boolean): number {
  const both = at * (1 - at);
  return velocityPinned ? both ** 3 / 3 : both ** 2 / 3;
}
