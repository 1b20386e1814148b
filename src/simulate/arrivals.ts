import type { Random } from '../maths/random.ts';
import { wobbleAt, wobbleRateAt } from './Wobble.ts';
import type { Discharge, Mains } from './World.ts';

export const mainsPhaseRad = (mains: Mains, tS: number): number =>
  2 * Math.PI * mains.meanHz * tS + mains.phaseRad + wobbleAt(mains.wander, tS);

/** The instant at which the mains has the given phase, near `guessS`: Newton's method, two steps give a nanosecond. */
function instantOfPhase(mains: Mains, phaseRad: number, guessS: number): number {
  let t = guessS;
  for (let i = 0; i < 2; i++) {
    t -= (mainsPhaseRad(mains, t) - phaseRad) / (2 * Math.PI * mains.meanHz + wobbleRateAt(mains.wander, t));
  }
  return t;
}

/**
 * The instants at which photons of a discharge become events during an exposure, `eventsPerPhoton` being the chance
 * of one emitted photon. Corona burns around the crests of the voltage, more at one polarity than at the other, in pulses of
 * tens of nanoseconds whose strengths differ widely: photons of one pulse arrive together, so that counts scatter more
 * than Poisson's where a pulse gives several. Pulses of an interval are a Poisson process: exposures may be asked for in any order.
 */
export function arrivalsOfDischarge(
  random: Random,
  source: Discharge,
  mains: Mains,
  fromS: number,
  toS: number,
  eventsPerPhoton: number,
  arrive: (tS: number) => void,
): void {
  const flicker = Math.exp(wobbleAt(source.flicker, (fromS + toS) / 2) - source.flickerSd ** 2 / 2);
  const eventsPerHalfCycle = ((source.photonRateHz * flicker) / (2 * mains.meanHz)) * eventsPerPhoton;
  const eventsPerPulse = eventsPerHalfCycle / source.pulsesPerHalfCycle;
  // Crests lie at odd multiples of a quarter turn. The pulses of a crest outside the exposure may still reach into it.
  const first = Math.floor(mainsPhaseRad(mains, fromS) / Math.PI - 0.5) - 1;
  const last = Math.ceil(mainsPhaseRad(mains, toS) / Math.PI - 0.5) + 1;
  for (let half = first; half <= last; half++) {
    const positive = half % 2 === 0;
    const pulses = random.poisson(
      source.pulsesPerHalfCycle * 2 * (positive ? source.positiveShare : 1 - source.positiveShare),
    );
    if (pulses === 0) continue;
    const crestPhase = (half + 0.5) * Math.PI;
    const crestS = instantOfPhase(
      mains,
      crestPhase,
      fromS + (crestPhase - mainsPhaseRad(mains, fromS)) / (2 * Math.PI * mains.meanHz),
    );
    for (let i = 0; i < pulses; i++) {
      const tS = crestS + (source.phaseSpreadRad * random.normal()) / (2 * Math.PI * mains.meanHz);
      if (tS < fromS || tS >= toS) continue;
      const events = random.poisson(eventsPerPulse * random.exponential());
      for (let e = 0; e < events; e++) arrive(tS);
    }
  }
}

/** The same for a steady lamp: Poisson, evenly in time. */
export function arrivalsOfLamp(
  random: Random,
  meanEvents: number,
  fromS: number,
  toS: number,
  arrive: (tS: number) => void,
): void {
  const events = random.poisson(meanEvents);
  for (let i = 0; i < events; i++) arrive(fromS + (toS - fromS) * random.uniform());
}
