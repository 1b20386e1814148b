import type { Random } from '../maths/random.ts';

/** A smooth random function of time: a sum of sinusoids with chosen chance in amplitude, frequency and phase. */
export type Wobble = readonly {
  readonly amplitude: number;
  readonly omegaRadPerS: number;
  readonly phaseRad: number;
}[];

/** A wobble of the given rms whose spectrum falls from `fromHz` to `toHz` (amplitude as frequency to the power -1). */
export function inventWobble(random: Random, rms: number, fromHz: number, toHz: number, terms = 10): Wobble {
  const raw = Array.from({ length: terms }, (_, i) => {
    const hz = fromHz * (toHz / fromHz) ** ((i + random.uniform()) / terms);
    return {
      amplitude: (0.6 + 0.8 * random.uniform()) / hz,
      omegaRadPerS: 2 * Math.PI * hz,
      phaseRad: 2 * Math.PI * random.uniform(),
    };
  });
  const norm = Math.sqrt(raw.reduce((sum, w) => sum + (w.amplitude * w.amplitude) / 2, 0));
  return raw.map((w) => ({ ...w, amplitude: (w.amplitude * rms) / norm }));
}

export function wobbleAt(wobble: Wobble, tS: number): number {
  let sum = 0;
  for (const w of wobble) sum += w.amplitude * Math.sin(w.omegaRadPerS * tS + w.phaseRad);
  return sum;
}

export function wobbleRateAt(wobble: Wobble, tS: number): number {
  let sum = 0;
  for (const w of wobble) sum += w.amplitude * w.omegaRadPerS * Math.cos(w.omegaRadPerS * tS + w.phaseRad);
  return sum;
}
