import { betaCdf, logGamma, normalQuantile } from '../maths/distributions.ts';

/**
 * Two-sided probability that two counts this different, or more so, come from one rate: the first of n1 + n2 is
 * binomial with p = exposure1 / (exposure1 + exposure2); sum of all outcomes no likelier than the one seen.
 * @param exposure1, exposure2 what each count would be per unit of rate: time x light grasp, whatever is common
 * Source: Przyborowski & Wilenski, Biometrika 31 (1940) 313 (from memory).
 */
export function twoRateProbability(n1: number, exposure1: number, n2: number, exposure2: number): number {
  if (!(exposure1 > 0 && exposure2 > 0)) throw new RangeError('twoRateProbability: an exposure is not above 0');
  const n = Math.round(n1) + Math.round(n2);
  const k = Math.round(n1);
  if (n === 0) return 1;
  const p = exposure1 / (exposure1 + exposure2);
  // P(X <= x) = I_{1-p}(n - x, x + 1)
  const cdf = (x: number): number => (x < 0 ? 0 : x >= n ? 1 : betaCdf(1 - p, n - x, x + 1));
  const tail = (x: number): number => (x <= 0 ? 1 : betaCdf(p, x, n - x + 1));
  const seen = logChance(k, n, p);
  // Outcomes on the other side that are no likelier: the first of them by bisection, as the chance falls away from the mode.
  const mode = Math.floor((n + 1) * p);
  if (k === mode) return 1;
  const limit = seen + 1e-9;
  if (k < mode) {
    let low = mode;
    let high = n + 1;
    while (high - low > 1) {
      const middle = (low + high) >> 1;
      if (logChance(middle, n, p) <= limit) high = middle;
      else low = middle;
    }
    return Math.min(1, cdf(k) + (high > n ? 0 : tail(high)));
  }
  let low = -1;
  let high = mode;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (logChance(middle, n, p) <= limit) low = middle;
    else high = middle;
  }
  return Math.min(1, tail(k) + (low < 0 ? 0 : cdf(low)));
}

function logChance(x: number, n: number, p: number): number {
  return logGamma(n + 1) - logGamma(x + 1) - logGamma(n - x + 1) + x * Math.log(p) + (n - x) * Math.log1p(-p);
}

/**
 * The two tails of the conditional test: the chance of a second count this small or smaller, and this large or larger, given
 * the total. Source: as above.
 */
export function conditionalTails(
  n1: number,
  exposure1: number,
  n2: number,
  exposure2: number,
): { readonly fewer: number; readonly more: number } {
  const p = exposure2 / (exposure1 + exposure2);
  return {
    fewer: n1 === 0 ? 1 : betaCdf(1 - p, n1, n2 + 1),
    more: n2 === 0 ? 1 : betaCdf(p, n2, n1 + 1),
  };
}

/**
 * The same question answered by the law of both counts under the rate estimated from them together: outcomes whose standardised
 * difference is at least the one seen. Less conservative than the conditional test where counts are small; its size hardly ever
 * exceeds the nominal one. Whole counts only.
 * Source: Krishnamoorthy & Thomson, J. Statist. Planning and Inference 119 (2004) 23, eqs. 3.3 to 3.6 with difference 0.
 */
export function twoRateProbabilityFromBoth(n1: number, exposure1: number, n2: number, exposure2: number): number {
  if (!(exposure1 > 0 && exposure2 > 0)) throw new RangeError('twoRateProbabilityFromBoth: an exposure is not above 0');
  if (n1 + n2 === 0) return 1;
  const pooled = (n1 + n2) / (exposure1 + exposure2);
  const standardised = (a: number, b: number): number => {
    const variance = a / exposure1 ** 2 + b / exposure2 ** 2;
    return variance > 0 ? Math.abs(a / exposure1 - b / exposure2) / Math.sqrt(variance) : 0;
  };
  // Outcomes as far apart as the one seen count, whatever rounding makes of equality.
  const seen = standardised(n1, n2) * (1 - 1e-12);
  const law = (mean: number): { from: number; upTo: Float64Array } => {
    // Nine sigmas and more either way: what lies beyond is below 1e-14.
    const reach = 9 * Math.sqrt(mean) + 20;
    const from = Math.max(0, Math.floor(mean - reach));
    const upTo = new Float64Array(Math.ceil(mean + reach) - from + 2);
    let chance = Math.exp(from * Math.log(mean) - mean - logGamma(from + 1));
    for (let k = 0; k + 1 < upTo.length; k++) {
      upTo[k + 1] = upTo[k] + chance;
      chance *= mean / (from + k + 1);
    }
    return { from, upTo };
  };
  const [first, second] = [law(pooled * exposure1), law(pooled * exposure2)];
  const last = second.upTo.length - 1;
  let sum = 0;
  for (let i = 0; i + 1 < first.upTo.length; i++) {
    const a = first.from + i;
    // On either side of equal rates the difference grows with its distance from it: two thresholds, by bisection.
    const equal = Math.min(last, Math.max(0, Math.ceil((a * exposure2) / exposure1) - second.from));
    let [low, high] = [-1, equal];
    while (high - low > 1) {
      const middle = (low + high) >> 1;
      if (standardised(a, second.from + middle) >= seen) low = middle;
      else high = middle;
    }
    const below = second.upTo[low + 1];
    [low, high] = [equal - 1, last];
    while (high - low > 1) {
      const middle = (low + high) >> 1;
      if (standardised(a, second.from + middle) >= seen) high = middle;
      else low = middle;
    }
    sum += (first.upTo[i + 1] - first.upTo[i]) * (below + second.upTo[last] - second.upTo[high]);
  }
  return Math.min(1, sum);
}

/**
 * Significance of an excess, in standard deviations, of n_on counts where n_off were taken over 1 / alpha times the exposure;
 * negative for a deficit. Flatters small counts: below about 20 use `onOffProbability`.
 * Source: Li & Ma, ApJ 272 (1983) 317, eq. 17.
 */
export function liMaSignificance(nOn: number, nOff: number, alpha: number): number {
  const n = nOn + nOff;
  const on = nOn > 0 ? nOn * Math.log((((1 + alpha) / alpha) * nOn) / n) : 0;
  const off = nOff > 0 ? nOff * Math.log(((1 + alpha) * nOff) / n) : 0;
  const sign = nOn >= alpha * nOff ? 1 : -1;
  return sign * Math.sqrt(2 * Math.max(0, on + off));
}

/**
 * Exact probability of n_on or more, given n_off over 1 / alpha times the exposure, if there were background alone.
 * Source: Cousins, Linnemann & Tucker, NIM A 595 (2008) 480: I_{1/(1+τ)}(n_on, n_off + 1), τ = 1 / alpha.
 */
function onOffProbability(nOn: number, nOff: number, alpha: number): number {
  return nOn <= 0 ? 1 : betaCdf(alpha / (1 + alpha), nOn, nOff + 1);
}

/** The same in standard deviations of a normal law (Z_Bi). */
export const onOffSignificance = (nOn: number, nOff: number, alpha: number): number =>
  -normalQuantile(onOffProbability(nOn, nOff, alpha));
