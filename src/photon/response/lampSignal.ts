import { mean } from '../../maths/sampleStatistics.ts';
import type { LampSignal } from './chargeByLamp.ts';

/** A square of pixels cut out of the frames about the lamp, `sidePx` wide. */
export interface LampFrames {
  readonly gain: number;
  readonly sidePx: number;
  /** Each frame's square, row by row, DN. */
  readonly frames: readonly ArrayLike<number>[];
}

export type LampSignalOutcome =
  | ({ readonly kind: 'measured' } & LampSignal)
  | { readonly kind: 'refused'; readonly gain: number; readonly because: 'too few frames' | 'saturated' | 'no light' };

/** Signal is summed within this radius of the middle of the square, the level is taken outside 1.4 times as far. */
const RADIUS_SHARE = 0.32;
const LEVEL_FROM = 1.4;
const FEWEST_FRAMES = 10;
/** More frames than this share with a pixel at the limit, and the mean is too small. */
const MOST_SATURATED = 0.01;

/**
 * Summed signal of a steady lamp, frame by frame: pixel sums in a circle above the dark picture and the level around it, as the
 * regions that the event finder makes end where the signal fades into the noise.
 * @param darkDn the same square in the mean of frames without light
 */
export function lampSignal(lamp: LampFrames, darkDn: ArrayLike<number>, saturationLevel: number): LampSignalOutcome {
  const { gain, sidePx, frames } = lamp;
  if (frames.length < FEWEST_FRAMES) return { kind: 'refused', gain, because: 'too few frames' };
  const middle = (sidePx - 1) / 2;
  const radius = RADIUS_SHARE * sidePx;
  const inside: number[] = [];
  const around: number[] = [];
  for (let i = 0; i < sidePx * sidePx; i++) {
    const r = Math.hypot((i % sidePx) - middle, Math.floor(i / sidePx) - middle);
    if (r <= radius) inside.push(i);
    else if (r >= LEVEL_FROM * radius) around.push(i);
  }
  let saturated = 0;
  const sums = frames.map((frame) => {
    if (inside.some((i) => frame[i] >= saturationLevel)) saturated++;
    const level = mean(around.map((i) => frame[i] - darkDn[i]));
    return inside.reduce((sum, i) => sum + frame[i] - darkDn[i] - level, 0);
  });
  if (saturated > MOST_SATURATED * frames.length) return { kind: 'refused', gain, because: 'saturated' };
  const meanDn = mean(sums);
  const scatter = sums.reduce((sum, s) => sum + (s - meanDn) ** 2, 0) / (sums.length - 1);
  const sigmaDn = Math.sqrt(scatter / sums.length);
  if (!(meanDn > 5 * sigmaDn)) return { kind: 'refused', gain, because: 'no light' };
  return { kind: 'measured', gain, frames: frames.length, meanDn, sigmaDn };
}
