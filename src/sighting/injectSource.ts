import type { Lens } from '../camera/Lens.ts';
import { projectPoint } from '../camera/projectPoint.ts';
import type { Random } from '../maths/random.ts';
import { norm, type Vec3 } from '../maths/vec3.ts';
import { NOT_A_PHOTON, type PhotonEvents } from '../photon/PhotonEvents.ts';
import type { FramePoses } from './EventRays.ts';
import { pointInUvM } from './framePoses.ts';
import type { Flicker } from './halfWave.ts';

/** A discharge that is not there: where, how strong, how it flickers, and how the camera turns its light into events. */
export interface SyntheticSource {
  readonly placeEnuM: Vec3;
  /** In band, into the full sphere, the mean over time. */
  readonly photonsPerS: number;
  /** Events that one photon per second gives in one second at a range: aperture, efficiency, range law, air. */
  readonly eventsPerPhotonAt: (rangeM: number) => number;
  /** Share of events that the finder finds. */
  readonly finderEfficiency: number;
  /** Mean size of the bunches, at one instant, in which events come; 1 = Poisson. */
  readonly bunch: number;
  /** Rate at a time over its mean, and the most that can be; steady where missing. */
  readonly flicker?: Flicker;
  /** Scatter of events about the place: lens, intensifier, and what attitude does from frame to frame, px. */
  readonly scatterPx: number;
  /** Events of one frame nearer to each other than this come out as one, px. */
  readonly mergePx: number;
}

/** Events of a stretch with those of a synthetic source among them, in order of frame. */
export interface InjectedEvents {
  readonly events: PhotonEvents;
  /** 1 for synthetic events, parallel to the rows. */
  readonly synthetic: Uint8Array;
  /** Synthetic events that came out on their own, and those that merged with an event near by. */
  readonly count: number;
  readonly merged: number;
}

/**
 * Adds the events of a synthetic source to a stretch of flight: Poisson arrivals during each exposure, thinned by range and
 * air, drawn out by the motion of the picture between neighbouring frames, scattered, lost beyond the border. Charge and
 * precision are those of events of the flight taken at random.
 * @param poses of the stretch; the picture of the place moves evenly from frame to frame
 */
export function injectSource(
  flown: PhotonEvents,
  poses: FramePoses,
  lens: Lens,
  source: SyntheticSource,
  random: Random,
): InjectedEvents {
  const models: number[] = [];
  for (let k = 0; k < flown.count; k++) if ((flown.flags[k] & NOT_A_PHOTON) === 0) models.push(k);
  const drawn: { frame: number; tNs: number; x: number; y: number; model: number }[] = [];
  let merged = 0;
  let row = 0;
  for (let p = 0; p < poses.count; p++) {
    while (row < flown.count && flown.frame[row] < poses.frame[p]) row++;
    const here = pointInUvM(poses, p, source.placeEnuM);
    const at = projectPoint(here, lens);
    if (!at) continue;
    const exposureS = poses.exposureNs[p] * 1e-9;
    const mean = source.photonsPerS * exposureS * source.eventsPerPhotonAt(norm(here)) * source.finderEfficiency;
    const most = source.flicker?.most ?? 1;
    const inFrame: { x: number; y: number }[] = [];
    for (let n = random.poisson((mean / source.bunch) * most); n > 0; n--) {
      const offsetS = (random.uniform() - 0.5) * exposureS;
      if (source.flicker && random.uniform() * most > source.flicker.at(poses.tNs[p] * 1e-9 + offsetS)) continue;
      let size = 1;
      while (random.uniform() > 1 / source.bunch) size++;
      const [dx, dy] = motionPx(poses, p, offsetS, source.placeEnuM, lens, at);
      for (let i = 0; i < size; i++) {
        const model = models.length > 0 ? models[Math.floor(random.uniform() * models.length)] : -1;
        const sigmaPx = Math.hypot(source.scatterPx, model < 0 ? 0 : flown.sigmaPx[model]);
        const x = at[0] + dx + sigmaPx * random.normal();
        const y = at[1] + dy + sigmaPx * random.normal();
        if (x < -0.5 || y < -0.5 || x > lens.widthPx - 0.5 || y > lens.heightPx - 0.5) continue;
        const near = (u: number, v: number): boolean => Math.hypot(u - x, v - y) < source.mergePx;
        let isMerged = inFrame.some((other) => near(other.x, other.y));
        for (let k = row; k < flown.count && flown.frame[k] === poses.frame[p] && !isMerged; k++)
          isMerged = near(flown.xPx[k], flown.yPx[k]);
        if (isMerged) {
          merged++;
          continue;
        }
        inFrame.push({ x, y });
        drawn.push({ frame: poses.frame[p], tNs: poses.tNs[p], x, y, model });
      }
    }
  }
  return { ...mergeByFrame(flown, drawn), count: drawn.length, merged };
}

/** How far the picture of a place moves from the middle of the exposure to a moment beside it. */
function motionPx(
  poses: FramePoses,
  p: number,
  offsetS: number,
  place: Vec3,
  lens: Lens,
  at: readonly [number, number],
): readonly [number, number] {
  const step = offsetS >= 0 ? 1 : -1;
  for (const q of [p + step, p - step]) {
    if (q < 0 || q >= poses.count) continue;
    const stepNs = poses.tNs[q] - poses.tNs[p];
    const beside = projectPoint(pointInUvM(poses, q, place), lens);
    if (!beside || Math.abs(stepNs) > 0.5e9) continue;
    const k = (offsetS * 1e9) / stepNs;
    return [(beside[0] - at[0]) * k, (beside[1] - at[1]) * k];
  }
  return [0, 0];
}

function mergeByFrame(
  flown: PhotonEvents,
  drawn: readonly { frame: number; tNs: number; x: number; y: number; model: number }[],
): { events: PhotonEvents; synthetic: Uint8Array } {
  const count = flown.count + drawn.length;
  const events = {
    count,
    frame: new Int32Array(count),
    tNs: new Float64Array(count),
    xPx: new Float64Array(count),
    yPx: new Float64Array(count),
    charge: new Float32Array(count),
    sigmaPx: new Float32Array(count),
    flags: new Uint8Array(count),
  };
  const synthetic = new Uint8Array(count);
  let i = 0;
  let j = 0;
  for (let out = 0; out < count; out++) {
    if (j < drawn.length && (i >= flown.count || drawn[j].frame < flown.frame[i])) {
      const { frame, tNs, x, y, model } = drawn[j++];
      events.frame[out] = frame;
      events.tNs[out] = tNs;
      events.xPx[out] = x;
      events.yPx[out] = y;
      events.charge[out] = model < 0 ? 1 : flown.charge[model];
      events.sigmaPx[out] = model < 0 ? 0 : flown.sigmaPx[model];
      synthetic[out] = 1;
      continue;
    }
    events.frame[out] = flown.frame[i];
    events.tNs[out] = flown.tNs[i];
    events.xPx[out] = flown.xPx[i];
    events.yPx[out] = flown.yPx[i];
    events.charge[out] = flown.charge[i];
    events.sigmaPx[out] = flown.sigmaPx[i];
    events.flags[out] = flown.flags[i];
    i++;
  }
  return { events, synthetic };
}
