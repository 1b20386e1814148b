import { chiSquareQuantile } from '../../maths/distributions.ts';
import { invert, type Mat3, quadraticForm } from '../../maths/mat3.ts';
import { garwoodInterval } from '../../maths/poissonInterval.ts';
import { mean, quantile } from '../../maths/sampleStatistics.ts';
import { distance, subtract, type Vec3 } from '../../maths/vec3.ts';

/** A true discharge, in the campaign's frame. */
export interface TrueDischarge {
  readonly id: string;
  readonly positionEnuM: Vec3;
  readonly componentId: string | null;
  readonly photonRateHz: number;
  readonly events: number;
  /** Largest number of its events over frames in view of any one pass: what detection has to work with. */
  readonly bestPassEventsPerFrame: number;
  readonly bestPassEvents: number;
}

/** A discharge as found. */
export interface FoundDischarge {
  readonly id: string;
  readonly positionEnuM: Vec3;
  readonly covarianceEnuM2: Mat3;
  readonly componentId: string | null;
  readonly componentProbability: number;
  /** Probability given to the component that is the right one for the truth at hand. */
  probabilityOf(componentId: string | null): number;
  readonly rateHz: number;
  readonly rateInterval: { readonly lower: number; readonly upper: number };
}

export interface Match {
  readonly truth: TrueDischarge;
  readonly found: FoundDischarge;
  readonly errorM: number;
  readonly errorEnuM: Vec3;
  /** errorᵀ · covariance⁻¹ · error. */
  readonly normalisedErrorSquared: number;
  readonly insideEllipsoid95: boolean;
  readonly attributedRight: boolean;
  readonly rateRatio: number;
  readonly rateInside95: boolean;
}

export interface Score {
  readonly matches: readonly Match[];
  readonly missed: readonly TrueDischarge[];
  readonly falseAlarms: readonly FoundDischarge[];
}

/** A finding farther than this from every true discharge is a false alarm: three times the error we promise at 95 %. */
export const MATCH_GATE_M = 1;

/** Pairs findings with true discharges, nearest pair first, each used once. */
export function scoreFindings(truths: readonly TrueDischarge[], found: readonly FoundDischarge[]): Score {
  const pairs = truths
    .flatMap((truth) => found.map((one) => ({ truth, one, errorM: distance(truth.positionEnuM, one.positionEnuM) })))
    .filter((pair) => pair.errorM <= MATCH_GATE_M)
    .sort((a, b) => a.errorM - b.errorM);
  const usedTruths = new Set<string>();
  const usedFound = new Set<string>();
  const matches: Match[] = [];
  for (const { truth, one, errorM } of pairs) {
    if (usedTruths.has(truth.id) || usedFound.has(one.id)) continue;
    usedTruths.add(truth.id);
    usedFound.add(one.id);
    const errorEnuM = subtract(one.positionEnuM, truth.positionEnuM);
    const weight = invert(one.covarianceEnuM2);
    const normalisedErrorSquared = weight ? quadraticForm(weight, errorEnuM) : Number.POSITIVE_INFINITY;
    matches.push({
      truth,
      found: one,
      errorM,
      errorEnuM,
      normalisedErrorSquared,
      insideEllipsoid95: normalisedErrorSquared <= chiSquareQuantile(0.95, 3),
      attributedRight: one.componentId === truth.componentId,
      rateRatio: one.rateHz / truth.photonRateHz,
      rateInside95: truth.photonRateHz >= one.rateInterval.lower && truth.photonRateHz <= one.rateInterval.upper,
    });
  }
  return {
    matches,
    missed: truths.filter((truth) => !usedTruths.has(truth.id)),
    falseAlarms: found.filter((one) => !usedFound.has(one.id)),
  };
}

/** Classes of strength, by events a frame in the best pass. */
export const STRENGTH_CLASSES = [
  { name: 'below 1 in 12', from: 0, to: 1 / 12 },
  { name: '1 in 12 to 1 in 8', from: 1 / 12, to: 1 / 8 },
  { name: '1 in 8 to 1 in 4', from: 1 / 8, to: 1 / 4 },
  { name: '1 in 4 to 1', from: 1 / 4, to: 1 },
  { name: 'above 1', from: 1, to: Number.POSITIVE_INFINITY },
] as const;

export interface ScoreSummary {
  readonly truths: number;
  readonly found: number;
  readonly byStrength: readonly { readonly name: string; readonly truths: number; readonly found: number }[];
  readonly falseAlarms: number;
  readonly falseAlarmsUpper95: number;
  readonly medianErrorM: number;
  readonly error95M: number;
  readonly insideEllipsoid95: number;
  readonly meanNormalisedErrorSquared: number;
  readonly attributedRight: number;
  readonly medianRateRatio: number;
  readonly rateInside95: number;
}

/** The figures of one or of many scored campaigns together. Quantiles by linear interpolation; NaN where nothing matched. */
export function summariseScores(scores: readonly Score[]): ScoreSummary {
  const matches = scores.flatMap((score) => score.matches);
  const missed = scores.flatMap((score) => score.missed);
  const falseAlarms = scores.reduce((sum, score) => sum + score.falseAlarms.length, 0);
  const inClass = (truth: TrueDischarge, c: (typeof STRENGTH_CLASSES)[number]): boolean =>
    truth.bestPassEventsPerFrame >= c.from && truth.bestPassEventsPerFrame < c.to;
  const errors = matches.map((m) => m.errorM);
  return {
    truths: matches.length + missed.length,
    found: matches.length,
    byStrength: STRENGTH_CLASSES.map((c) => {
      const found = matches.filter((m) => inClass(m.truth, c)).length;
      return { name: c.name, truths: found + missed.filter((t) => inClass(t, c)).length, found };
    }),
    falseAlarms,
    falseAlarmsUpper95: garwoodInterval(falseAlarms, 0.9).upper,
    medianErrorM: quantile(errors, 0.5),
    error95M: quantile(errors, 0.95),
    insideEllipsoid95: matches.filter((m) => m.insideEllipsoid95).length,
    meanNormalisedErrorSquared: mean(matches.map((m) => m.normalisedErrorSquared)),
    attributedRight: matches.filter((m) => m.attributedRight).length,
    medianRateRatio: quantile(
      matches.map((m) => m.rateRatio),
      0.5,
    ),
    rateInside95: matches.filter((m) => m.rateInside95).length,
  };
}
