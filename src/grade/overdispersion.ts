import type { SourceCounts, SourceFrames } from './sourceCounts.ts';

/**
 * Variance over mean of the source's counts per slice of time, against what a steady source at the changing range would
 * give: Pearson's dispersion. 1 for Poisson light; corona flickers and lies above. NaN-free: 1 where there is too little.
 * Slices are as long as leaves ten of them, since slow flicker is what an interval of the mean has to cover.
 */
export function overdispersionOf(frames: SourceFrames, source: SourceCounts): number {
  const n = frames.counts.length;
  const total = Math.max(source.events + source.background, 0);
  // At least three events a slice for a chi-square that means something; at most twenty slices.
  const slices = Math.min(20, Math.floor(total / 3), Math.floor(n / 2));
  if (slices < 4) return 1;
  const rate = source.events / source.grasp;
  let byHits = 0;
  let byCharge = 0;
  for (let s = 0; s < slices; s++) {
    const from = Math.floor((s * n) / slices);
    const to = Math.floor(((s + 1) * n) / slices);
    let hits = 0;
    let expectedHits = 0;
    let variance = 0;
    let charge = 0;
    let expected = 0;
    for (let i = from; i < to; i++) {
      const share = frames.foundShare?.[i] ?? 1;
      const mu = Math.max(rate * frames.lightGrasp[i] * share + frames.background[i], 1e-9);
      const p = -Math.expm1(-mu);
      if (frames.counts[i] > 0) hits++;
      expectedHits += p;
      variance += p * (1 - p);
      charge += frames.charge[i] / frames.singleCharge;
      expected += mu / share;
    }
    if (variance > 0) byHits += (hits - expectedHits) ** 2 / variance;
    byCharge += (charge - expected) ** 2 / (expected * (1 + frames.singleChargeSpread2));
  }
  const k = source.chargeShare;
  return (k * byCharge + (1 - k) * byHits) / (slices - 1);
}
