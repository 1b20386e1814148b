/**
 * Probabilities adjusted for how many were looked at: telling a change wherever the adjusted one is at most q keeps the
 * expected share of false ones among those told at q.
 * Source: Benjamini & Hochberg, J. R. Statist. Soc. B 57 (1995) 289; it holds where tests depend on each other positively, as those
 * of two campaigns do through their common errors (Benjamini & Yekutieli, Ann. Statist. 29 (2001) 1165) (both from memory).
 */
export function adjustedProbabilities(probabilities: readonly number[]): number[] {
  const order = probabilities.map((p, i) => ({ p, i })).sort((a, b) => b.p - a.p);
  const adjusted = new Array<number>(probabilities.length);
  let least = 1;
  order.forEach(({ p, i }, fromTop) => {
    const rank = order.length - fromTop;
    least = Math.min(least, (p * order.length) / rank);
    adjusted[i] = least;
  });
  return adjusted;
}
