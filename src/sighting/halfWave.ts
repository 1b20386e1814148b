/**
 * Light of a discharge on one half-wave of the mains alone, the burstiest that corona gives: it follows the eighth power of the
 * sine, so that half of it lies within 1.5 ms at 50 Hz (a working value, not measured).
 */
const POWER = 8;
/** The mean of sin^8 over one half of the period, none over the other, is 35 / 256. */
const MOST = 256 / 35;
const STEPS = 1000;

/** Rate at a time over its mean, and the most that can be. */
export interface Flicker {
  readonly at: (seconds: number) => number;
  readonly most: number;
}

/** @param phase 0 to 1, of the mains at second 0 */
export const halfWave = (mainsHz: number, phase: number): Flicker => ({
  most: MOST,
  at: (seconds) => MOST * Math.max(0, Math.sin(2 * Math.PI * (mainsHz * seconds + phase))) ** POWER,
});

/**
 * Light that the exposures of a pass take in over what they would of steady light, for phases of the mains spread evenly over a
 * cycle. Frames in step with the mains meet the same phase throughout; others run through a beat.
 */
export function lightOfPasses(of: {
  readonly mainsHz: number;
  readonly exposureS: number;
  readonly frameRateHz: number;
  readonly frames: number;
  readonly phases: number;
}): Float64Array {
  const exposure = of.exposureS * of.mainsHz;
  const step = of.mainsHz / of.frameRateHz;
  return Float64Array.from({ length: of.phases }, (_, p) => {
    let light = 0;
    for (let i = 0; i < of.frames; i++) {
      const from = (p + 0.5) / of.phases + i * step;
      light += lightUpTo(from + exposure) - lightUpTo(from);
    }
    return light / (exposure * of.frames);
  });
}

/** A pass that sees less than this of the light is dark. */
const DARK = 0.1;

/** Share of the passes, over all phases of the mains, that light on one half-wave leaves dark; 0 for exposures of whole cycles. */
export function shareOfDarkPasses(of: Omit<Parameters<typeof lightOfPasses>[0], 'phases'>): number {
  const lights = lightOfPasses({ ...of, phases: 200 });
  return lights.filter((light) => light < DARK).length / lights.length;
}

const cycle = new Float64Array(STEPS + 1);
for (let i = 1; i <= STEPS; i++) cycle[i] = cycle[i - 1] + halfWave(1, 0).at((i - 0.5) / STEPS) / STEPS;

/** Light since phase 0, in cycles of its mean. */
function lightUpTo(phase: number): number {
  const whole = Math.floor(phase);
  const at = (phase - whole) * STEPS;
  const i = Math.min(STEPS - 1, Math.floor(at));
  return whole + cycle[i] + (at - i) * (cycle[i + 1] - cycle[i]);
}
