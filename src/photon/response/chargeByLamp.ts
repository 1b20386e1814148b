import { chiSquareTail } from '../../maths/distributions.ts';

/** What a steady lamp gave at one gain: the summed charge of a frame, its mean over the frames and the standard deviation of that. */
export interface LampSignal {
  readonly gain: number;
  readonly frames: number;
  readonly meanDn: number;
  readonly sigmaDn: number;
}

export interface SingleCharge {
  readonly gain: number;
  readonly meanDn: number;
  readonly sigmaDn: number;
}

export type ChargeByLamp =
  | {
      readonly kind: 'measured';
      /** Photon events of the lamp in one frame, from the gains at which single events are measured too. */
      readonly eventsPerFrame: number;
      readonly eventsPerFrameSigma: number;
      /** The same from each of those gains; equal where charge is proportional to light. */
      readonly byGain: readonly { readonly gain: number; readonly eventsPerFrame: number; readonly sigma: number }[];
      /** Chance of larger differences between them; null with one gain alone. */
      readonly proportionalChance: number | null;
      /** Mean charge of a single event at gains where the lamp alone can tell it. */
      readonly charges: readonly SingleCharge[];
    }
  | { readonly kind: 'refused'; readonly because: 'no gain at which lamp and single events are both measured' };

/**
 * Carries the charge of single events to gains where they drown in the noise, by a lamp that shines the same at all of them; and
 * tests on the way whether charge stays proportional to light from single events to many.
 */
export function chargeByLamp(signals: readonly LampSignal[], singles: readonly SingleCharge[]): ChargeByLamp {
  const byGain = signals.flatMap((signal) => {
    const single = singles.find(({ gain }) => gain === signal.gain);
    if (!single) return [];
    const eventsPerFrame = signal.meanDn / single.meanDn;
    const sigma = eventsPerFrame * Math.hypot(signal.sigmaDn / signal.meanDn, single.sigmaDn / single.meanDn);
    return [{ gain: signal.gain, eventsPerFrame, sigma }];
  });
  if (byGain.length === 0)
    return { kind: 'refused', because: 'no gain at which lamp and single events are both measured' };
  const weight = byGain.reduce((sum, g) => sum + 1 / g.sigma ** 2, 0);
  const eventsPerFrame = byGain.reduce((sum, g) => sum + g.eventsPerFrame / g.sigma ** 2, 0) / weight;
  const eventsPerFrameSigma = 1 / Math.sqrt(weight);
  const chiSquare = byGain.reduce((sum, g) => sum + ((g.eventsPerFrame - eventsPerFrame) / g.sigma) ** 2, 0);
  return {
    kind: 'measured',
    eventsPerFrame,
    eventsPerFrameSigma,
    byGain,
    proportionalChance: byGain.length > 1 ? chiSquareTail(chiSquare, byGain.length - 1) : null,
    charges: signals
      .filter(({ gain }) => !singles.some((single) => single.gain === gain))
      .map(({ gain, meanDn, sigmaDn }) => ({
        gain,
        meanDn: meanDn / eventsPerFrame,
        sigmaDn: (meanDn / eventsPerFrame) * Math.hypot(sigmaDn / meanDn, eventsPerFrameSigma / eventsPerFrame),
      })),
  };
}
