import { chiSquareTail, poissonTail } from '../../maths/distributions.ts';
import { garwoodInterval } from '../../maths/poissonInterval.ts';
import { quantile } from '../../maths/sampleStatistics.ts';
import { NOT_A_PHOTON, type PhotonEvents } from '../PhotonEvents.ts';
import { eventAt, PhotonEventsBuilder } from '../PhotonEventsBuilder.ts';
import { meanChargeDn, type UvCamera } from '../UvCamera.ts';
import type { CameraResponse, EventRate, GainCharge, Light } from './CameraResponse.ts';
import { chargeByLamp, type LampSignal, type SingleCharge } from './chargeByLamp.ts';
import { fitChargeLaw } from './chargeLaw.ts';
import { countLinearity } from './countLinearity.ts';
import { type FlatFieldMeasurement, measureFlatField } from './flatField.ts';

/** Frames of one gain, one exposure and one kind of light, with their photon events. */
export interface ResponseStretch {
  readonly gain: number;
  readonly exposureS: number;
  readonly light: Exclude<Light, 'lamp'>;
  /** Frame numbers, as in the events. */
  readonly frames: ArrayLike<number>;
  readonly events: PhotonEvents;
}

/**
 * The finder asks for five standard deviations of the filtered noise, and its filter is not the best one at every place within a pixel:
 * from this many standard deviations of a fitted charge on, fewer than 1 in 1000 events are missed.
 */
const CUT_SIGMAS = 8.5;
/** A frame of a flight with more events than chance gives so seldom holds a source and is left out of the rates. */
const GLOW_CHANCE = 1e-4;

/**
 * Everything that photon events tell of the camera behind them.
 * @param signals of a steady lamp, where there was one
 * @param noiseDn read noise of a pixel, 1 sigma, as the finder learned it
 */
export function measureCameraResponse(
  camera: UvCamera,
  taken: readonly ResponseStretch[],
  signals: readonly LampSignal[],
  noiseDn: number,
): CameraResponse {
  const stretches = taken.map(withoutGlows);
  // The amplitude of a Gaussian spot times its area, fitted in white noise (matched filter: signal over noise is
  // charge / (noise sqrt(4 pi) sigma)).
  const chargeNoiseDn = noiseDn * Math.sqrt(4 * Math.PI) * camera.spotSigmaPx;
  const cutDn = CUT_SIGMAS * chargeNoiseDn;
  // An event brighter than this has pixels at the limit.
  const topDn = 0.8 * camera.saturationLevel * 2 * Math.PI * camera.spotSigmaPx ** 2;
  const gainsUp = [...new Set(stretches.map(({ gain }) => gain))].sort((a, b) => a - b);
  const gains: GainCharge[] = gainsUp.map((gain) => ({
    gain,
    law: fitChargeLaw(singleCharges(stretches.filter((s) => s.gain === gain)), {
      cutDn,
      topDn,
      noiseDn: chargeNoiseDn,
    }),
    byCurveDn: meanChargeDn(camera, gain),
  }));
  const singles: SingleCharge[] = gains.flatMap(({ gain, law }) =>
    law.kind === 'fitted' ? [{ gain, meanDn: law.meanDn, sigmaDn: law.meanSigmaDn }] : [],
  );
  const lamp = signals.length > 0 ? chargeByLamp(signals, singles) : null;
  // Where most single events drown, a rate of those that do not says nothing.
  const rates = stretches.flatMap((stretch) => {
    const law = gains.find(({ gain }) => gain === stretch.gain)?.law;
    return law?.kind === 'fitted' ? [rateOf(stretch, cutDn, 1 - law.shareBelowCut, law.shareBelowCutSigma)] : [];
  });
  return {
    gains,
    lamp,
    gainCurve: [...singles, ...(lamp?.kind === 'measured' ? lamp.charges : [])]
      .sort((a, b) => a.gain - b.gain)
      .map(({ gain, meanDn, sigmaDn }) => ({ gain, meanChargeDn: meanDn, sigmaDn })),
    againstCurve: againstCurve(gains),
    rates,
    linearity: gainsUp.flatMap((gain) => {
      const even = stretches.filter((s) => s.gain === gain && s.light === 'even');
      if (even.length === 0) return [];
      const counts = even.map(({ exposureS, frames, events }) => ({
        exposureS,
        frames: frames.length,
        events: photonCount(events, cutDn),
      }));
      return [{ gain, counts: countLinearity(counts) }];
    }),
    flatField: mapOf(camera, stretches, 'even', rates, cutDn),
    background: mapOf(camera, stretches, 'as it came', rates, cutDn),
    cutDn,
  };
}

/** A flight without the frames in which something glows; what was recorded for measuring is taken as it is. */
function withoutGlows(stretch: ResponseStretch): ResponseStretch {
  if (stretch.light !== 'as it came') return stretch;
  const { events } = stretch;
  const perFrame = new Map<number, number>();
  for (let k = 0; k < stretch.frames.length; k++) perFrame.set(stretch.frames[k], 0);
  for (let i = 0; i < events.count; i++)
    if ((events.flags[i] & NOT_A_PHOTON) === 0) perFrame.set(events.frame[i], (perFrame.get(events.frame[i]) ?? 0) + 1);
  const median = Math.max(1, quantile([...perFrame.values()], 0.5));
  const frames = [...perFrame].filter(([, n]) => poissonTail(n, median) > GLOW_CHANCE).map(([frame]) => frame);
  const usual = new Set(frames);
  const kept = new PhotonEventsBuilder(events.count);
  for (let i = 0; i < events.count; i++) if (usual.has(events.frame[i])) kept.add(eventAt(events, i));
  return { ...stretch, frames, events: kept.finish() };
}

function singleCharges(stretches: readonly ResponseStretch[]): number[] {
  const charges: number[] = [];
  for (const { events } of stretches)
    for (let i = 0; i < events.count; i++) if (events.flags[i] === 0) charges.push(events.charge[i]);
  return charges;
}

/** Events that are counted: only such as are found in full, so that what is not can be made up for by the law of their charges. */
const isCounted = (events: PhotonEvents, i: number, cutDn: number): boolean =>
  (events.flags[i] & NOT_A_PHOTON) === 0 && events.charge[i] > cutDn;

function photonCount(events: PhotonEvents, cutDn: number): number {
  let count = 0;
  for (let i = 0; i < events.count; i++) if (isCounted(events, i, cutDn)) count++;
  return count;
}

function rateOf(
  { gain, exposureS, light, frames, events }: ResponseStretch,
  cutDn: number,
  countedShare: number,
  countedShareSigma: number,
): EventRate {
  const count = photonCount(events, cutDn);
  const seconds = frames.length * exposureS * countedShare;
  const { lower, upper } = garwoodInterval(count, 0.95);
  const ofShare = 1.96 * count * (countedShareSigma / countedShare);
  return {
    gain,
    exposureS,
    light,
    frames: frames.length,
    events: count,
    perS: count / seconds,
    lowerPerS: Math.max(0, count - Math.hypot(count - lower, ofShare)) / seconds,
    upperPerS: (count + Math.hypot(upper - count, ofShare)) / seconds,
    countedShare,
  };
}

/** One factor on the whole curve by weighted mean, and whether the gains agree on it. */
function againstCurve(gains: readonly GainCharge[]): CameraResponse['againstCurve'] {
  const ratios = gains.flatMap(({ law, byCurveDn }) =>
    law.kind === 'fitted' ? [{ ratio: law.meanDn / byCurveDn, sigma: law.meanSigmaDn / byCurveDn }] : [],
  );
  if (ratios.length === 0) return null;
  const weight = ratios.reduce((sum, r) => sum + 1 / r.sigma ** 2, 0);
  const factor = ratios.reduce((sum, r) => sum + r.ratio / r.sigma ** 2, 0) / weight;
  const chiSquare = ratios.reduce((sum, r) => sum + ((r.ratio - factor) / r.sigma) ** 2, 0);
  return {
    factor,
    sigma: 1 / Math.sqrt(weight),
    sameShapeChance: ratios.length > 1 ? chiSquareTail(chiSquare, ratios.length - 1) : 1,
  };
}

/** Where in the picture the events of one kind of light fell; null where there was no such light. */
function mapOf(
  camera: UvCamera,
  stretches: readonly ResponseStretch[],
  light: ResponseStretch['light'],
  rates: readonly EventRate[],
  cutDn: number,
): FlatFieldMeasurement | null {
  const lit = stretches.filter((s) => s.light === light);
  if (lit.length === 0) return null;
  const x: number[] = [];
  const y: number[] = [];
  let dark = 0;
  for (const { events, frames, gain, exposureS } of lit) {
    for (let i = 0; i < events.count; i++)
      if (isCounted(events, i, cutDn)) {
        x.push(events.xPx[i]);
        y.push(events.yPx[i]);
      }
    const inTheDark = rates.find((r) => r.light === 'none' && r.gain === gain);
    if (inTheDark) dark += inTheDark.perS * inTheDark.countedShare * exposureS * frames.length;
  }
  return measureFlatField(camera, x, y, dark);
}
