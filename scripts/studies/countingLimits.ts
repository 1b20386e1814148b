/** The setting of a fly-past of the study of detection, and what counting statistics alone allow in it. */
import { poissonTail } from '../../src/maths/distributions.ts';
import { LINE_CORRIDOR } from '../../src/sighting/flyPast.fixture.ts';

/** A camera, its background, and how the sources shine. */
export interface DetectionSetting {
  readonly name: string;
  readonly widthPx: number;
  readonly heightPx: number;
  readonly backgroundPerFrame: number;
  readonly exposureMs: number;
  /** Mean size of the bunches in which events come; 1 = Poisson. */
  readonly bunch: number;
  /** Light of one half-wave of the mains alone, near its peak; steady where missing. */
  readonly mainsHz?: number;
}

/** As the camera of the fly-past sees: 36 degrees across, one blur whatever the pixels, 100 frames across the picture. */
export const FRAMES_IN_VIEW = 100;
export const RANGE_M = 40;
export const FRAMES_PER_S = 50;
export const BLUR_PX = 0.9;

/** Two sigmas about the way of a point during the exposure, px². */
function aperturePx2(setting: DetectionSetting): number {
  const smearPx = (setting.widthPx / FRAMES_IN_VIEW) * ((setting.exposureMs / 1000) * FRAMES_PER_S);
  return Math.PI * 4 * BLUR_PX ** 2 + 4 * BLUR_PX * smearPx;
}

/**
 * What counting in an aperture allows at one false alarm an hour: n events within two sigmas of a place followed through its
 * pass (about 90 % of the source's), n so large that the independent places of an hour reach it once by chance. Places:
 * apertures in the picture, times ranges told apart by the parallax of a pass, times passes in an hour.
 */
export function apertureCount(setting: DetectionSetting, eventsPerFrame: number): number {
  const { widthPx, heightPx, backgroundPerFrame } = setting;
  const area = aperturePx2(setting);
  const mean = (backgroundPerFrame * FRAMES_IN_VIEW * area) / (widthPx * heightPx);
  const ranges = Math.max(1, (widthPx * 2 * LINE_CORRIDOR.radiusM) / RANGE_M / (2 * BLUR_PX));
  const places = ((widthPx * heightPx) / area) * ranges * ((3600 * FRAMES_PER_S) / FRAMES_IN_VIEW);
  let n = 1;
  while (places * poissonTail(n, mean) > 1) n++;
  return poissonTail(n, 0.9 * eventsPerFrame * FRAMES_IN_VIEW + mean);
}

/** The same with single frames: n events of one frame within an aperture, once an hour by chance, in any frame of the pass. */
export function singleFrame(setting: DetectionSetting, eventsPerFrame: number): number {
  const { widthPx, heightPx, backgroundPerFrame } = setting;
  const area = aperturePx2(setting);
  const mean = (backgroundPerFrame * area) / (widthPx * heightPx);
  const places = ((widthPx * heightPx) / area) * 3600 * FRAMES_PER_S;
  let n = 1;
  while (places * poissonTail(n, mean) > 1) n++;
  return 1 - (1 - poissonTail(n, 0.9 * eventsPerFrame + mean)) ** FRAMES_IN_VIEW;
}
