import { normalQuantile } from '../maths/distributions.ts';
import type { Interval } from '../maths/poissonInterval.ts';
import { garwoodInterval } from '../maths/poissonInterval.ts';
import { mainsEffect } from './mainsEffect.ts';
import { overdispersionOf } from './overdispersion.ts';
import type { PhotonRate } from './PhotonRate.ts';
import type { Reason } from './Reason.ts';
import { reasonInEnglish } from './reasonsInEnglish.ts';
import { estimateSource, type SourceFrames } from './sourceCounts.ts';

/** What the camera saw around a discharge, frame by frame, and how it turns photons into events. */
export interface RateObservation extends Omit<SourceFrames, 'lightGrasp'> {
  /** From the camera to the discharge in each frame. */
  readonly rangeM: Float64Array;
  readonly exposureS: Float64Array;
  /** Middle of the exposure. */
  readonly tNs: Float64Array;
  /** Response of the camera to a point of light where the discharge stood in each frame, 1 in the mean over the picture. Default: 1. */
  readonly response?: Float64Array;
  /** Relative standard deviation of its mean over the frames; null or none: the response was not measured. */
  readonly responseRelativeSigma?: number | null;
}

export interface RateConditions {
  /** Diameter of the lens opening. */
  readonly apertureMm: number;
  readonly bandNm: readonly [number, number];
  /** Events for each photon of the band that enters the opening, and its relative standard deviation. */
  readonly eventsPerPhoton: number;
  readonly eventsPerPhotonRelativeSigma: number;
  /** Of the air in the band, and its standard deviation. */
  readonly extinctionPerKm: number;
  readonly extinctionSigmaPerKm: number;
  readonly rangeSigmaM: number;
  /** Relative standard deviation of the mean charge of one event at this gain. */
  readonly singleChargeRelativeSigma: number;
  readonly mainsHz: number;
  readonly frameRateHz: number;
  /** Power of the range by which light thins out. Default 2: a discharge is a point at these ranges. */
  readonly rangeExponent?: number;
}

/** Events that one photon per second sent into 4 pi gives in one second at a range. */
export function eventsPerPhotonAt(
  rangeM: number,
  conditions: Pick<RateConditions, 'apertureMm' | 'eventsPerPhoton' | 'extinctionPerKm' | 'rangeExponent'>,
): number {
  const openingM2 = Math.PI * (conditions.apertureMm / 2000) ** 2;
  const share = openingM2 / (4 * Math.PI * rangeM ** (conditions.rangeExponent ?? 2));
  return share * conditions.eventsPerPhoton * Math.exp((-conditions.extinctionPerKm * rangeM) / 1000);
}

/**
 * Photons per second that a discharge sends into all directions, in the stated band, as the mean over the frames in view.
 * Few events a frame: counted by frames hit, so that events merging into one do no harm; many: by charge; between, a
 * mean of both whose weight moves with the light, so that there is no step. The exact Poisson interval is widened by
 * the measured overdispersion and by what the estimator itself adds; the systematic part is added to its logarithm.
 */
export function estimatePhotonRate(observation: RateObservation, conditions: RateConditions): PhotonRate {
  const frames: SourceFrames = {
    ...observation,
    lightGrasp: observation.exposureS.map(
      (s, i) => s * (observation.response?.[i] ?? 1) * eventsPerPhotonAt(observation.rangeM[i], conditions),
    ),
  };
  const source = estimateSource(frames);
  const overdispersion = Math.max(1, overdispersionOf(frames, source));
  const inflation = overdispersion * source.inflation;
  // The interval is taken on the total of source and background, whose count is what fluctuates.
  const total = source.events + source.background;
  const scaled = garwoodInterval(Math.max(0, total) / inflation, 0.95);
  const toRate = (events: number): number => Math.max(0, events - source.background) / source.grasp;
  const countingInterval = { lower: toRate(scaled.lower * inflation), upper: toRate(scaled.upper * inflation) };
  const rateHz = Math.max(0, source.events) / source.grasp;

  const meanRangeM = mean(observation.rangeM);
  const perMetre = (conditions.rangeExponent ?? 2) / meanRangeM + conditions.extinctionPerKm / 1000;
  const mains = mainsEffect({
    mainsHz: conditions.mainsHz,
    exposureS: mean(observation.exposureS),
    frameRateHz: conditions.frameRateHz,
    watchedS: (observation.tNs[observation.tNs.length - 1] - observation.tNs[0]) * 1e-9,
  });
  const budget = [
    { name: 'range', relativeSigma: perMetre * conditions.rangeSigmaM },
    { name: 'air', relativeSigma: (conditions.extinctionSigmaPerKm * meanRangeM) / 1000 },
    { name: 'camera efficiency', relativeSigma: conditions.eventsPerPhotonRelativeSigma },
    ...(typeof observation.responseRelativeSigma === 'number'
      ? [{ name: 'evenness of the camera', relativeSigma: observation.responseRelativeSigma }]
      : []),
    { name: 'charge of one event', relativeSigma: source.chargeShare * conditions.singleChargeRelativeSigma },
    { name: 'mains phase', relativeSigma: mains.relativeSigma },
  ];
  const remarks: Reason[] = [
    ...(mains.remark ? [mains.remark] : []),
    ...(source.chargeShare > 0.5 ? [{ key: 'charge counted' as const, values: {} }] : []),
    ...(observation.counts.length < 20
      ? [{ key: 'few frames' as const, values: { frames: observation.counts.length } }]
      : []),
    ...(overdispersion > 1.5 ? [{ key: 'flicker' as const, values: { times: overdispersion } }] : []),
  ];
  return {
    rateHz,
    countingInterval,
    interval: withSystematic(rateHz, countingInterval, Math.hypot(...budget.map((b) => b.relativeSigma))),
    events: Math.max(0, source.events),
    background: source.background,
    overdispersion,
    bandNm: conditions.bandNm,
    budget,
    notes: remarks.map(reasonInEnglish),
    remarks,
  };
}

const Z_95 = normalQuantile(0.975);

/** Adds a relative standard deviation to an interval, in logarithms, where a product of uncertain factors is at home. */
function withSystematic(rateHz: number, counting: Interval, relativeSigma: number): Interval {
  const systematic = Z_95 * relativeSigma;
  if (!(rateHz > 0)) return { lower: 0, upper: counting.upper * Math.exp(systematic) };
  const up = Math.log(counting.upper / rateHz);
  const down = counting.lower > 0 ? Math.log(rateHz / counting.lower) : Number.POSITIVE_INFINITY;
  return {
    lower: Number.isFinite(down) ? rateHz * Math.exp(-Math.hypot(down, systematic)) : 0,
    upper: rateHz * Math.exp(Math.hypot(up, systematic)),
  };
}

const mean = (values: Float64Array): number => values.reduce((sum, v) => sum + v, 0) / values.length;
