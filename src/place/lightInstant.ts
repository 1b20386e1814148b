/** Share of each half-cycle, about its crest, in which a discharge gives light: a working value, not measured. */
const BRIGHT_SHARE = 1 / 3;
/** Share of the light that comes at one polarity: anything from 0.2 to 0.8, a judgement; three nodes of Gauss-Legendre. */
const POLARITY = [
  { share: 0.5 - 0.3 * Math.sqrt(3 / 5), weight: 5 / 18 },
  { share: 0.5, weight: 8 / 18 },
  { share: 0.5 + 0.3 * Math.sqrt(3 / 5), weight: 5 / 18 },
] as const;
const PHASES = 72;
const MOST_FRAMES = 100;

/**
 * How far, in the root mean square over unknown phases, the mean instant of a discharge's light lies from the middle of the exposures
 * of a pass, seconds. Corona glows about the crests of the voltage: where frames keep step with the mains, its photons come early or
 * late in every exposure of the pass, and what moves in the picture is seen displaced along its way, by 15 mm a millisecond at
 * 15 m/s. It is one error of the source and the pass, which neither more rays nor a better clock takes away. Frames out of step with
 * the mains average it out.
 */
export function lightInstantSigmaS(of: {
  readonly exposureS: number;
  readonly mainsHz: number;
  readonly frameRateHz: number;
  /** Length of the pass. */
  readonly watchedS: number;
}): number {
  const frames = Math.max(1, Math.min(MOST_FRAMES, Math.round(of.watchedS * of.frameRateHz)));
  const exposure = of.exposureS * of.mainsHz;
  const step = of.mainsHz / of.frameRateHz;
  let squares = 0;
  let total = 0;
  for (let p = 0; p < PHASES; p++)
    for (const { share, weight } of POLARITY) {
      let light = 0;
      let moment = 0;
      for (let i = 0; i < frames; i++) {
        const seen = lightOf((p + 0.5) / PHASES + i * step, exposure, share);
        light += seen.light;
        moment += seen.moment;
      }
      if (!(light > 0)) continue;
      // Sources are seen the more often the more light there is.
      squares += weight * light * (moment / light) ** 2;
      total += weight * light;
    }
  return total > 0 ? Math.sqrt(squares / total) / of.mainsHz : 0;
}

/** Light of one exposure and its moment about the middle, in cycles; a crest of the first polarity lies at `phase` from the middle. */
function lightOf(phase: number, exposure: number, share: number): { light: number; moment: number } {
  const half = BRIGHT_SHARE / 4;
  let light = 0;
  let moment = 0;
  const first = Math.floor(2 * (-exposure / 2 - phase)) - 1;
  const last = Math.ceil(2 * (exposure / 2 - phase)) + 1;
  for (let k = first; k <= last; k++) {
    const crest = phase + k / 2;
    const from = Math.max(crest - half, -exposure / 2);
    const to = Math.min(crest + half, exposure / 2);
    if (to <= from) continue;
    const part = (to - from) * (k % 2 === 0 ? share : 1 - share);
    light += part;
    moment += (part * (from + to)) / 2;
  }
  return { light, moment };
}
