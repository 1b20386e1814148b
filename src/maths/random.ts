import { xoroshiro128plus } from 'pure-rand/generator/xoroshiro128plus';

/** A stream of random numbers: the same seed gives the same numbers on every machine. */
export interface Random {
  /** Uniform in [0, 1), 32 bits. */
  uniform(): number;
  /** Normal with mean 0 and standard deviation 1 (Marsaglia's polar method). */
  normal(): number;
  /** Exponential with mean 1. */
  exponential(): number;
  /** Poisson with the given mean, exact: products of uniforms below 30, the mean split by gamma steps above. */
  poisson(mean: number): number;
  /** Gamma with the given shape (> 0) and scale 1. Source: Marsaglia & Tsang, ACM TOMS 26 (2000) 363 (from memory). */
  gamma(shape: number): number;
  /** Binomial with n trials of probability p. */
  binomial(n: number, p: number): number;
  /** An independent stream, told apart by `key`; does not move this one. */
  fork(key: number): Random;
}

/** Mixes two 32-bit words into one so that neighbouring seeds give unrelated streams (finaliser of MurmurHash3, public domain). */
function mix(a: number, b: number): number {
  let h = Math.imul(a ^ 0x9e3779b9, 0x85ebca6b) ^ Math.imul(b ^ 0x7f4a7c15, 0xc2b2ae35);
  h = Math.imul(h ^ (h >>> 16), 0x85ebca6b);
  h = Math.imul(h ^ (h >>> 13), 0xc2b2ae35);
  return h ^ (h >>> 16);
}

export function randomFrom(seed: number): Random {
  const generator = xoroshiro128plus(mix(seed | 0, Math.floor(seed / 4294967296) | 0));
  const uniform = (): number => (generator.next() >>> 0) / 4294967296;
  let spare = Number.NaN;

  const normal = (): number => {
    if (!Number.isNaN(spare)) {
      const value = spare;
      spare = Number.NaN;
      return value;
    }
    for (;;) {
      const x = 2 * uniform() - 1;
      const y = 2 * uniform() - 1;
      const s = x * x + y * y;
      if (s > 0 && s < 1) {
        const k = Math.sqrt((-2 * Math.log(s)) / s);
        spare = y * k;
        return x * k;
      }
    }
  };

  const exponential = (): number => -Math.log(1 - uniform());

  const gamma = (shape: number): number => {
    if (!(shape > 0)) throw new RangeError(`gamma: shape ${shape} is not above 0`);
    if (shape < 1) return gamma(shape + 1) * (1 - uniform()) ** (1 / shape);
    const d = shape - 1 / 3;
    const c = 1 / Math.sqrt(9 * d);
    for (;;) {
      const x = normal();
      const v = (1 + c * x) ** 3;
      if (v > 0 && Math.log(1 - uniform()) < 0.5 * x * x + d - d * v + d * Math.log(v)) return d * v;
    }
  };

  const binomial = (n: number, p: number): number => {
    let hits = 0;
    for (let i = 0; i < n; i++) if (uniform() < p) hits++;
    return hits;
  };

  const poisson = (mean: number): number => {
    if (!(mean >= 0)) throw new RangeError(`poisson: mean ${mean} is negative or not a number`);
    let left = mean;
    let count = 0;
    // Ahrens & Dieter 1974: the m-th arrival is gamma(m); where it falls short of `left`, m events have happened.
    while (left > 30) {
      const m = Math.floor((7 * left) / 8);
      const arrival = gamma(m);
      if (arrival > left) return count + binomial(m - 1, left / arrival);
      count += m;
      left -= arrival;
    }
    const limit = Math.exp(-left);
    for (let product = 1 - uniform(); product > limit; product *= 1 - uniform()) count++;
    return count;
  };

  return {
    uniform,
    normal,
    exponential,
    poisson,
    gamma,
    binomial,
    fork: (key) => randomFrom(mix(seed | 0, key | 0) >>> 0),
  };
}
