import type { Lens } from '../../camera/Lens.ts';
import { projectPoint } from '../../camera/projectPoint.ts';
import type { RateObservation } from '../../grade/estimatePhotonRate.ts';
import { norm, type Vec3 } from '../../maths/vec3.ts';
import { EVENT_FLAGS, type PhotonEvents } from '../../photon/PhotonEvents.ts';
import type { PointResponse } from '../../photon/response/pointResponse.ts';
import type { FramePoses } from '../../sighting/EventRays.ts';
import { pointInUvM } from '../../sighting/framePoses.ts';
import type { SingleEvents } from './singleEvents.ts';

/** Events of a flight, findable by frame: rows `start[f]` to `start[f + 1]` belong to frame f of the index. */
export interface EventsByFrame {
  readonly events: PhotonEvents;
  readonly start: Int32Array;
}

export function eventsByFrame(events: PhotonEvents, frames: number): EventsByFrame {
  const start = new Int32Array(frames + 1);
  for (let i = 0; i < events.count; i++) start[events.frame[i] + 1]++;
  for (let f = 0; f < frames; f++) start[f + 1] += start[f];
  return { events, start };
}

/** Events this many standard deviations from the discharge's track are still counted: 98.9 % of a round Gaussian. */
const APERTURE_SIGMAS = 3;
/** Frames whose aperture would reach over the image border are not used. */
const BORDER_PX = 8;
/** Fewer frames than this say less than frames shared with a neighbour. */
const LEAST_FRAMES = 20;
/** Frames in which another discharge stands so near that its light reaches into the aperture are not used either: its spot, px. */
const SPOT_PX = 4;

/** Overlap, at two sigmas, from which an event at the place of earlier light is taken together with that beside it. */
const NEAR = Math.exp(-1);

/** A pass over a discharge, and how far from its projected place the pass shows it (offsetOfPass). */
export interface Stretch {
  readonly fromNs: number;
  readonly toNs: number;
  readonly offsetPx: readonly [number, number];
}

/**
 * What the camera saw around a discharge during given stretches of a flight, frame by frame, whether or not it showed.
 * The aperture is the band about the way that the discharge runs over the image during the exposure.
 * @param sigmaPx          scatter of the events of a point source about that way
 * @param backgroundPerPx  background events a pixel and frame
 * @param afterglow        share of a frame's light that comes again in the next, at the same place of the sensor; taken off the charge
 * @param othersEnuM       places of other discharges: frames in which one stands before or behind this one are left out, unless none is left
 * @param response         of the camera over its picture; null: taken as even
 * Charge is in units of the mean charge of a single event at the gain of its frame.
 */
export function countSource(
  { events, start }: EventsByFrame,
  gainOfFrame: (frame: number) => number,
  positionEnuM: Vec3,
  stretches: readonly Stretch[],
  poses: FramePoses,
  lens: Lens,
  sigmaPx: number,
  backgroundPerPx: number,
  single: SingleEvents,
  afterglow: { readonly share: number; readonly spotSigmaPx: number },
  othersEnuM: readonly Vec3[] = [],
  response: PointResponse | null = null,
): RateObservation | null {
  const apart = countFrames(true);
  return apart && apart.counts.length >= LEAST_FRAMES ? apart : countFrames(false);

  function countFrames(alone: boolean): RateObservation | null {
    const counts: number[] = [];
    const charge: number[] = [];
    const foundShare: number[] = [];
    let missedCharge = 0;
    const background: number[] = [];
    const rangeM: number[] = [];
    const exposureS: number[] = [];
    const tNs: number[] = [];
    const placesPx: [number, number][] = [];
    const reachPx = APERTURE_SIGMAS * sigmaPx;
    for (let pose = 0; pose < poses.count; pose++) {
      const t = poses.tNs[pose];
      const stretch = stretches.find(({ fromNs, toNs }) => t >= fromNs && t <= toNs);
      if (!stretch) continue;
      const inUvM = pointInUvM(poses, pose, positionEnuM);
      const projected = projectPoint(inUvM, lens);
      if (!projected) continue;
      const px = [projected[0] + stretch.offsetPx[0], projected[1] + stretch.offsetPx[1]] as const;
      const [halfU, halfV] = halfSmearPx(poses, pose, positionEnuM, lens);
      const margin = BORDER_PX + reachPx;
      if (px[0] - Math.abs(halfU) < margin || px[0] + Math.abs(halfU) > lens.widthPx - 1 - margin) continue;
      if (px[1] - Math.abs(halfV) < margin || px[1] + Math.abs(halfV) > lens.heightPx - 1 - margin) continue;
      const frame = poses.frame[pose];
      const unitCharge = single.meanCharge(gainOfFrame(frame));
      if (alone && othersEnuM.some((other) => standsNear(other, pose, px, stretch.offsetPx))) continue;
      const inAperture = (row: number): boolean =>
        distanceToWay(events.xPx[row] - px[0], events.yPx[row] - px[1], halfU, halfV) <= reachPx;
      const light: number[] = [];
      for (let row = start[frame]; row < start[frame + 1]; row++)
        if (isLight(events.flags[row]) && inAperture(row)) light.push(row);
      let sum = 0;
      for (const row of light) sum += events.charge[row] / unitCharge;
      if (light.length > 0 && afterglow.share > 0) sum += restOfGlow(frame, light, inAperture) / unitCharge;
      counts.push(light.length);
      charge.push(sum);
      foundShare.push(single.foundShare(gainOfFrame(frame)));
      missedCharge += single.missedCharge(gainOfFrame(frame));
      background.push(backgroundPerPx * (Math.PI * reachPx * reachPx + 4 * reachPx * Math.hypot(halfU, halfV)));
      rangeM.push(norm(inUvM));
      exposureS.push(poses.exposureNs[pose] * 1e-9);
      tNs.push(t);
      placesPx.push([px[0], px[1]]);
    }
    if (counts.length === 0) return null;
    return {
      counts: Float64Array.from(counts),
      charge: Float64Array.from(charge),
      foundShare: Float64Array.from(foundShare),
      missedCharge: missedCharge / counts.length,
      background: Float64Array.from(background),
      singleCharge: 1,
      singleChargeSpread2: single.spread2,
      rangeM: Float64Array.from(rangeM),
      exposureS: Float64Array.from(exposureS),
      tNs: Float64Array.from(tNs),
      ...(response
        ? {
            response: Float64Array.from(placesPx, ([u, v]) => response.at(u, v)),
            responseRelativeSigma: response.relativeSigma(placesPx),
          }
        : {}),
    };
  }

  /**
   * Where the picture hardly moves, the glow goes on at one place: what a photon gives there cannot be told from what the frame before
   * left, so that all is taken together and the share that was left is taken off. Charge to be added to that of the light, DN.
   * From an extended event the finder has taken it off already, pixel by pixel.
   */
  function restOfGlow(frame: number, light: readonly number[], inAperture: (row: number) => boolean): number {
    // How much of what glows at a place is taken for light of the events beside it: a fitted spot takes what overlaps it.
    const takenByLight = (row: number): number =>
      light.reduce((most, other) => {
        if ((events.flags[other] & EVENT_FLAGS.extended) !== 0) return most;
        const [dx, dy] = [events.xPx[other] - events.xPx[row], events.yPx[other] - events.yPx[row]];
        return Math.max(most, Math.exp(-(dx * dx + dy * dy) / (4 * afterglow.spotSigmaPx ** 2)));
      }, 0);
    let sum = 0;
    for (let row = start[frame]; row < start[frame + 1]; row++)
      if (events.flags[row] & EVENT_FLAGS.afterglow && inAperture(row) && takenByLight(row) > NEAR)
        sum += events.charge[row];
    for (let row = frame > 0 ? start[frame - 1] : start[frame]; row < start[frame]; row++)
      if (isLight(events.flags[row]) && inAperture(row))
        sum -= afterglow.share * takenByLight(row) * events.charge[row];
    return sum;
  }

  function standsNear(
    other: Vec3,
    pose: number,
    px: readonly [number, number],
    offsetPx: readonly [number, number],
  ): boolean {
    const at = projectPoint(pointInUvM(poses, pose, other), lens);
    if (!at) return false;
    const [halfU, halfV] = halfSmearPx(poses, pose, other, lens);
    const reach = 2 * APERTURE_SIGMAS * sigmaPx + SPOT_PX + Math.hypot(halfU, halfV);
    return Math.hypot(at[0] + offsetPx[0] - px[0], at[1] + offsetPx[1] - px[1]) < reach;
  }
}

/** Too bright for one photon is right for many: an extended region counts, a lone cosmic trace does not. */
function isLight(flags: number): boolean {
  if ((flags & (EVENT_FLAGS.afterglow | EVENT_FLAGS.hotPixel)) !== 0) return false;
  return (flags & EVENT_FLAGS.tooBright) === 0 || (flags & EVENT_FLAGS.extended) !== 0;
}

/** Half the way that a fixed point runs over the image during the exposure, from the poses before and after. */
function halfSmearPx(poses: FramePoses, pose: number, positionEnuM: Vec3, lens: Lens): readonly [number, number] {
  const before = Math.max(0, pose - 1);
  const after = Math.min(poses.count - 1, pose + 1);
  const a = projectPoint(pointInUvM(poses, before, positionEnuM), lens);
  const b = projectPoint(pointInUvM(poses, after, positionEnuM), lens);
  const stepNs = poses.tNs[after] - poses.tNs[before];
  if (!a || !b || !(stepNs > 0)) return [0, 0];
  const k = poses.exposureNs[pose] / stepNs / 2;
  return [(b[0] - a[0]) * k, (b[1] - a[1]) * k];
}

/** From a point to the straight way between -half and +half. */
function distanceToWay(u: number, v: number, halfU: number, halfV: number): number {
  const length2 = halfU * halfU + halfV * halfV;
  const at = length2 > 0 ? Math.max(-1, Math.min(1, (u * halfU + v * halfV) / length2)) : 0;
  return Math.hypot(u - at * halfU, v - at * halfV);
}
