import { normalQuantile, poissonTail } from '../maths/distributions.ts';
import type { Random } from '../maths/random.ts';

/** Trials at one photon rate. */
export interface TrialsAtRate {
  readonly rateHz: number;
  readonly trials: number;
  readonly found: number;
}

/** Detection probability against rate: the chance that a Poisson count of mean rate · eventsPerHz reaches `count`. */
export interface DetectionCurve {
  readonly eventsPerHz: number;
  /** Real-valued: stands for a threshold on a likelihood. */
  readonly count: number;
}

export function probabilityAt({ count, eventsPerHz }: DetectionCurve, rateHz: number): number {
  const mean = eventsPerHz * rateHz;
  // By Chernoff's bound the chance is below exp(-600) there, where the library's function runs out of range.
  if (mean <= 0 || (mean < count && count * Math.log(count / mean) - count + mean > 600)) return 0;
  return poissonTail(count, mean);
}

/** The rate found with a probability. */
export function rateFoundOnCurve({ count, eventsPerHz }: DetectionCurve, probability: number): number {
  const reached = (mean: number): boolean => probabilityAt({ count, eventsPerHz: 1 }, mean) >= probability;
  let low = 0;
  let high = count;
  while (!reached(high)) high *= 2;
  for (let i = 0; i < 50; i++) {
    const middle = (low + high) / 2;
    if (reached(middle)) high = middle;
    else low = middle;
  }
  return high / eventsPerHz;
}

/**
 * The curve of largest binomial likelihood, by steps of falling size on ln count and ln of the rate found with one half, which hardly
 * depend on each other. Null where all trials, or none, found the source: then nothing says where the curve bends.
 */
export function fitDetectionCurve(points: readonly TrialsAtRate[]): DetectionCurve | null {
  const trials = points.reduce((sum, point) => sum + point.trials, 0);
  const found = points.reduce((sum, point) => sum + point.found, 0);
  if (found === 0 || found === trials) return null;
  const curveOf = (logCount: number, logHalfRate: number): DetectionCurve => {
    const count = Math.exp(logCount);
    return { count, eventsPerHz: rateFoundOnCurve({ count, eventsPerHz: 1 }, 0.5) / Math.exp(logHalfRate) };
  };
  const misfit = (curve: DetectionCurve): number =>
    points.reduce((sum, { rateHz, trials: n, found: hits }) => {
      const p = Math.min(1 - 1e-9, Math.max(1e-9, probabilityAt(curve, rateHz)));
      return sum - hits * Math.log(p) - (n - hits) * Math.log(1 - p);
    }, 0);
  const middle = points.reduce((sum, { rateHz }) => sum + Math.log(rateHz), 0) / points.length;
  let at = [Math.log(8), middle];
  let best = misfit(curveOf(at[0], at[1]));
  for (let step = 0.8; step > 0.002; ) {
    let moved = false;
    for (const [a, b] of [
      [step, 0],
      [-step, 0],
      [0, step],
      [0, -step],
    ]) {
      // Fewer than 2 or more than 400 counts: flatter or steeper than any source of light in a pass.
      const next = [Math.max(Math.log(2), Math.min(Math.log(400), at[0] + a)), at[1] + b];
      const value = misfit(curveOf(next[0], next[1]));
      if (value < best - 1e-9) {
        best = value;
        at = next;
        moved = true;
      }
    }
    if (!moved) step /= 2;
  }
  return curveOf(at[0], at[1]);
}

/**
 * Interval, 95 %, of the rate that is found with a probability, by drawing the trials anew from the fitted curve.
 * @returns null where a fifth of the draws or more say nothing
 */
export function intervalOfRate(
  points: readonly TrialsAtRate[],
  curve: DetectionCurve,
  probability: number,
  random: Random,
  draws = 100,
): { lower: number; upper: number } | null {
  const rates: number[] = [];
  for (let i = 0; i < draws; i++) {
    const drawn = points.map((point) => ({
      ...point,
      found: random.binomial(point.trials, probabilityAt(curve, point.rateHz)),
    }));
    const again = fitDetectionCurve(drawn);
    if (again) rates.push(rateFoundOnCurve(again, probability));
  }
  if (rates.length < 0.8 * draws) return null;
  rates.sort((a, b) => a - b);
  return { lower: rates[Math.floor(0.025 * rates.length)], upper: rates[Math.ceil(0.975 * rates.length) - 1] };
}

/** Wilson's score interval, 95 %. Source: Wilson, JASA 22 (1927) 209 (from memory). */
export function wilsonInterval(hits: number, trials: number): [number, number] {
  const z = normalQuantile(0.975);
  const p = hits / trials;
  const middle = (p + (z * z) / (2 * trials)) / (1 + (z * z) / trials);
  const half = (z * Math.sqrt((p * (1 - p)) / trials + (z * z) / (4 * trials * trials))) / (1 + (z * z) / trials);
  return [Math.max(0, middle - half), Math.min(1, middle + half)];
}
