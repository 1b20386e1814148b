import { chiSquareTail } from '../../maths/distributions.ts';

/** Events counted in even light at one gain, for one length of exposure. */
export interface ExposureCount {
  readonly exposureS: number;
  readonly frames: number;
  readonly events: number;
}

export type CountLinearity =
  | {
      readonly kind: 'measured';
      readonly points: readonly (ExposureCount & { readonly perFrame: number; readonly deviation: number })[];
      readonly eventsPerS: number;
      readonly eventsPerSSigma: number;
      /** Events of a frame that a line through the points leaves at no exposure, and its standard deviation. */
      readonly perFrameAtZero: number;
      readonly perFrameAtZeroSigma: number;
      /** Chance of larger departures from a line through the origin. */
      readonly proportionalChance: number;
    }
  | { readonly kind: 'refused'; readonly because: 'one length of exposure alone' };

/**
 * Whether twice the exposure gives twice the events: Poisson counts against exposure, fitted by a line through the origin and by a free one.
 * What is left at no exposure is light let in while the shutter counts as closed, or exposures that are not what their stamps say.
 */
export function countLinearity(counts: readonly ExposureCount[]): CountLinearity {
  const used = counts.filter(({ frames }) => frames > 0);
  if (new Set(used.map(({ exposureS }) => exposureS)).size < 2)
    return { kind: 'refused', because: 'one length of exposure alone' };
  const time = used.reduce((sum, c) => sum + c.frames * c.exposureS, 0);
  const events = used.reduce((sum, c) => sum + c.events, 0);
  const eventsPerS = events / time;
  // Weights from the proportional fit: those of the counts themselves would pull the line to the low ones.
  const variance = (c: ExposureCount): number => Math.max(1, eventsPerS * c.exposureS * c.frames) / c.frames ** 2;
  let [w, wx, wy, wxx, wxy, chiSquare] = [0, 0, 0, 0, 0, 0];
  for (const c of used) {
    const weight = 1 / variance(c);
    const perFrame = c.events / c.frames;
    w += weight;
    wx += weight * c.exposureS;
    wy += weight * perFrame;
    wxx += weight * c.exposureS ** 2;
    wxy += weight * c.exposureS * perFrame;
    chiSquare += weight * (perFrame - eventsPerS * c.exposureS) ** 2;
  }
  const determinant = w * wxx - wx * wx;
  return {
    kind: 'measured',
    points: used.map((c) => ({
      ...c,
      perFrame: c.events / c.frames,
      deviation: c.events / c.frames / (eventsPerS * c.exposureS) - 1,
    })),
    eventsPerS,
    eventsPerSSigma: Math.sqrt(events) / time,
    perFrameAtZero: (wxx * wy - wx * wxy) / determinant,
    perFrameAtZeroSigma: Math.sqrt(wxx / determinant),
    proportionalChance: chiSquareTail(chiSquare, used.length - 1),
  };
}
