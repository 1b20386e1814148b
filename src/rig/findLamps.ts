import type { GreyFrame } from '../camera/GreyFrame.ts';
import { type FittedSpot, fitSpots, type SpotStart } from './fitSpots.ts';

/** What the uv stream looks like without lamps, pixel by pixel, learned from the run itself. */
export interface LampBackground {
  readonly levelDn: Float32Array;
  /** Standard deviation of a pixel at rest. */
  readonly noiseDn: number;
}

/** What is known of the uv camera. */
export interface LampOptics {
  readonly saturationLevel: number;
  /** Radius of the spot of one photon event, and of the scatter of events of one point, 1 sigma. */
  readonly spotSigmaPx: number;
  readonly blurSigmaPx: number;
  /** Mean summed signal of one photon event at the gain of the frame. */
  readonly meanChargeDn: number;
}

/**
 * The median of some frames spread over the run: lamps move, so no pixel is lit in most of them, and hot pixels, which
 * do not move, become part of the background.
 * @param frames at least 5, of one size
 */
export function learnBackground(frames: readonly GreyFrame[]): LampBackground {
  const n = frames[0].data.length;
  const levelDn = new Float32Array(n);
  const values = new Float64Array(frames.length);
  const middle = frames.length >> 1;
  for (let i = 0; i < n; i++) {
    for (let k = 0; k < frames.length; k++) values[k] = frames[k].data[i];
    values.sort();
    levelDn[i] = values[middle];
  }
  // Noise from the median absolute difference to the level; half a step of quantisation is its floor.
  const sample: number[] = [];
  for (let i = 7; i < n; i += 97) for (const f of frames) sample.push(Math.abs(f.data[i] - levelDn[i]));
  const rounding = Math.sqrt(1 / 12);
  const mean = sample.reduce((a, b) => a + Math.min(b, 20), 0) / sample.length;
  return { levelDn, noiseDn: Math.max(rounding, mean * Math.sqrt(Math.PI / 2)) };
}

/** A peak has to stand this many standard deviations above the background, summed over 3 x 3 pixels. */
const PEAK_SIGMAS = 7;
const REACH = 3;

/**
 * The lamps of one frame: peaks of the signal, each fitted with a round Gaussian, neighbours together; the brightest
 * first, at most `most`. Peaks within 3 px of the border are left out, as half a spot is not centred.
 */
export function findLamps(
  frame: GreyFrame,
  background: LampBackground,
  optics: LampOptics,
  most: number,
): FittedSpot[] {
  const { widthPx, data } = frame;
  const { levelDn, noiseDn } = background;
  const threshold = PEAK_SIGMAS * noiseDn * 3;
  const starts: SpotStart[] = [];
  const sum9 = (x: number, y: number): number => {
    let sum = 0;
    for (let j = y - 1; j <= y + 1; j++) {
      const at = j * widthPx + x;
      sum += data[at - 1] + data[at] + data[at + 1] - levelDn[at - 1] - levelDn[at] - levelDn[at + 1];
    }
    return sum;
  };
  const plateau = new Set<number>();
  for (const at of placesBesideLight(frame, background)) {
    const x = at % widthPx;
    const y = (at - x) / widthPx;
    if (data[at] >= optics.saturationLevel) {
      if (!plateau.has(at)) starts.push(...saturatedStart(frame, optics, at, plateau));
      continue;
    }
    const here = sum9(x, y);
    if (here < threshold) continue;
    let isPeak = true;
    for (let j = -1; j <= 1 && isPeak; j++)
      for (let i = -1; i <= 1; i++) {
        if (i === 0 && j === 0) continue;
        const there = sum9(x + i, y + j);
        // Of equal sums the first in reading order is the peak.
        if (there > here || (there === here && (j < 0 || (j === 0 && i < 0)))) {
          isPeak = false;
          break;
        }
      }
    if (isPeak) starts.push({ x, y, sum: here });
  }
  starts.sort((a, b) => b.sum - a.sum);
  return fitSpots(frame, background, optics, starts.slice(0, most));
}

/**
 * Pixels that stand out of the noise and those beside them, away from the border, in reading order: of a faint lamp whose photons
 * are told apart, the middle pixel may have none.
 */
function placesBesideLight({ widthPx, heightPx, data }: GreyFrame, { levelDn, noiseDn }: LampBackground): Int32Array {
  const places = new Set<number>();
  for (let y = REACH; y < heightPx - REACH; y++)
    for (let at = y * widthPx + REACH; at < (y + 1) * widthPx - REACH; at++) {
      if (data[at] - levelDn[at] < 3 * noiseDn) continue;
      for (let j = -1; j <= 1; j++) for (let i = -1; i <= 1; i++) places.add(at + j * widthPx + i);
    }
  const inside = (at: number): boolean => {
    const x = at % widthPx;
    const y = (at - x) / widthPx;
    return x >= REACH && y >= REACH && x < widthPx - REACH && y < heightPx - REACH;
  };
  return Int32Array.from(places).filter(inside).sort();
}

/** A whole region at the limit of the sensor is one lamp: its middle, and the height that a region of its area needs. */
function saturatedStart(frame: GreyFrame, optics: LampOptics, first: number, plateau: Set<number>): SpotStart[] {
  const { widthPx, heightPx, data } = frame;
  const region = [first];
  plateau.add(first);
  let sx = 0;
  let sy = 0;
  for (let i = 0; i < region.length; i++) {
    const at = region[i];
    const x = at % widthPx;
    sx += x;
    sy += (at - x) / widthPx;
    for (const next of [at - 1, at + 1, at - widthPx, at + widthPx])
      if (data[next] >= optics.saturationLevel && !plateau.has(next)) {
        plateau.add(next);
        region.push(next);
      }
  }
  const x = Math.round(sx / region.length);
  const y = Math.round(sy / region.length);
  if (x < REACH || y < REACH || x >= widthPx - REACH || y >= heightPx - REACH) return [];
  const radius2 = optics.spotSigmaPx ** 2 + optics.blurSigmaPx ** 2;
  return [{ x, y, sum: 7 * optics.saturationLevel * Math.exp(region.length / (2 * Math.PI * radius2)) }];
}
