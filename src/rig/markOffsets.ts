import type { BenchRun } from './BenchObservations.ts';
import type { BundleSolution } from './bundle.ts';
import { pointSigmas } from './rigBundle.ts';

/** Where a lamp sits beside its visible mark on the target, x and y, mm: as stated, and as the run alone tells it. */
export interface MarkOffset {
  readonly mark: string;
  readonly statedMm: readonly [number, number];
  /** Of the statement. */
  readonly statedSigmaMm: number;
  /** From the images alone, without the statement; null where they do not tell it. */
  readonly fromRunMm: readonly [number, number] | null;
  readonly fromRunSigmaMm: readonly [number, number] | null;
  /** Their difference over its own standard deviation. */
  readonly sigmasApart: readonly [number, number] | null;
  /** What the calibration used: both together, or the one that it was told to use. */
  readonly usedMm: readonly [number, number];
}

/** A run that narrows the statement by less than this share of its variance tells nothing worth showing. */
const LEAST_GAIN = 0.02;

/**
 * The adjustment weighs statement and images together; taking the statement off again, as information that was added,
 * leaves what the images say by themselves.
 * A shift common to all lamps looks like a longer baseline: only turns of the target tell them apart, and the stated baseline.
 */
export function markOffsets(run: BenchRun, solution: BundleSolution): MarkOffset[] {
  const sigmas = pointSigmas(run);
  const { targetCovariance: covariance, correctionsAt } = solution;
  return run.marks.flatMap((mark, i): MarkOffset[] => {
    if (mark.sees === 'visible') return [];
    const disc = run.marks.length + i;
    // Beside a pattern, whose points are exact, the lamp's own place is its offset.
    const isAlone = mark.sees === 'lamp';
    const priorVariance = sigmas[i] ** 2 + sigmas[disc] ** 2;
    const of = (axis: 0 | 1) => {
      const stated = mark.lampM[axis] - (isAlone ? 0 : mark.discM[axis]);
      const used = solution.targetPointsM[i][axis] - (isAlone ? 0 : solution.targetPointsM[disc][axis]);
      const rows = [i, disc].map((p) => (correctionsAt[p] < 0 ? -1 : correctionsAt[p] + axis));
      const at = (a: number, b: number): number => (a < 0 || b < 0 ? 0 : covariance.get(a, b));
      const variance = at(rows[0], rows[0]) + at(rows[1], rows[1]) - 2 * at(rows[0], rows[1]);
      const isTold = priorVariance > 0 && variance < (1 - LEAST_GAIN) * priorVariance;
      const own = isTold ? 1 / (1 / variance - 1 / priorVariance) : Number.NaN;
      const alone = own * (used / variance - stated / priorVariance);
      const stating = run.offsets === 'estimated' ? run.targetSigmaM ** 2 * (isAlone ? 1 : 2) : priorVariance;
      return { stated, used, isTold, alone, own, apart: (alone - stated) / Math.sqrt(own + stating) };
    };
    const axes = [of(0), of(1)] as const;
    const isTold = axes.every((a) => a.isTold);
    return [
      {
        mark: mark.id,
        statedMm: [1000 * axes[0].stated, 1000 * axes[1].stated],
        statedSigmaMm: 1000 * run.targetSigmaM * (isAlone ? 1 : Math.SQRT2),
        fromRunMm: isTold ? [1000 * axes[0].alone, 1000 * axes[1].alone] : null,
        fromRunSigmaMm: isTold ? [1000 * Math.sqrt(axes[0].own), 1000 * Math.sqrt(axes[1].own)] : null,
        sigmasApart: isTold ? [axes[0].apart, axes[1].apart] : null,
        usedMm: [1000 * axes[0].used, 1000 * axes[1].used],
      },
    ];
  });
}
