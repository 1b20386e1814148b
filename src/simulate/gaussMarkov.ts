import type { Random } from '../maths/random.ts';

/**
 * A first-order Gauss-Markov process of standard deviation `sigma` and correlation time `tauS`, sampled every `stepS`:
 * the usual model of an error that wanders (satellite positions, gyro attitude). Starts in its stationary distribution.
 */
export function gaussMarkov(random: Random, count: number, stepS: number, sigma: number, tauS: number): Float64Array {
  const keep = Math.exp(-stepS / tauS);
  const kick = sigma * Math.sqrt(1 - keep * keep);
  const out = new Float64Array(count);
  let x = sigma * random.normal();
  for (let i = 0; i < count; i++) {
    out[i] = x;
    x = keep * x + kick * random.normal();
  }
  return out;
}
