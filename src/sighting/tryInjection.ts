import type { Lens } from '../camera/Lens.ts';
import { projectPoint } from '../camera/projectPoint.ts';
import type { Random } from '../maths/random.ts';
import type { Vec3 } from '../maths/vec3.ts';
import type { PhotonEvents } from '../photon/PhotonEvents.ts';
import type { FramePoses, SearchCorridor } from './EventRays.ts';
import { findSightings } from './findSightings.ts';
import { pointInUvM } from './framePoses.ts';
import { injectSource, type SyntheticSource } from './injectSource.ts';
import { raysOfEvents } from './raysOfEvents.ts';
import { eventsBetween, posesBetween } from './stretchOfFlight.ts';
import type { SunAt } from './sunNearView.ts';

/** A flight as it was searched, for searching pieces of it again. */
export interface SearchedFlight {
  readonly events: PhotonEvents;
  readonly poses: FramePoses;
  readonly lens: Lens;
  readonly corridor: SearchCorridor;
  /** ln likelihood ratio that a sighting had to reach. */
  readonly threshold: number;
  readonly blurSigmaPx: number;
  readonly sunAt?: SunAt;
}

/** Poses, first and last, of an uninterrupted view of a place. */
export interface ViewOfPlace {
  readonly fromPose: number;
  readonly toPose: number;
  /** Poses in between that have the place in the picture. */
  readonly frames: number;
}

/** Frames around a view that are searched with it: the background's own time, and room for places beside. */
const AROUND_FRAMES = 60;

/** The views of a place within a range, parted where it is out of sight for longer than `gapS`. */
export function viewsOfPlace(
  { poses, lens, corridor }: SearchedFlight,
  place: Vec3,
  gapS = 5,
  borderPx = 8,
): ViewOfPlace[] {
  const views: { fromPose: number; toPose: number; frames: number }[] = [];
  for (let p = 0; p < poses.count; p++) {
    const inUvM = pointInUvM(poses, p, place);
    const rangeM = Math.hypot(...inUvM);
    if (rangeM < corridor.nearestM || rangeM > corridor.farthestM) continue;
    const px = projectPoint(inUvM, lens);
    if (!px || px[0] < borderPx - 0.5 || px[1] < borderPx - 0.5) continue;
    if (px[0] > lens.widthPx - 0.5 - borderPx || px[1] > lens.heightPx - 0.5 - borderPx) continue;
    const last = views[views.length - 1];
    if (last && poses.tNs[p] - poses.tNs[last.toPose] <= gapS * 1e9) {
      last.toPose = p;
      last.frames++;
    } else views.push({ fromPose: p, toPose: p, frames: 1 });
  }
  return views;
}

/**
 * Adds a synthetic source to one view and searches that piece of the flight again.
 * @returns events that were added, and whether a sighting without suspicion is made of them for the most part
 */
export function tryInjection(
  flight: SearchedFlight,
  view: ViewOfPlace,
  source: SyntheticSource,
  random: Random,
): { events: number; found: boolean } {
  const poses = posesAround(flight, view);
  const flown = eventsBetween(flight.events, poses.frame[0], poses.frame[poses.count - 1]);
  const { events, synthetic, count } = injectSource(flown, poses, flight.lens, source, random);
  return { events: count, found: isFoundAmong(flight, poses, events, synthetic) };
}

/** The stretch of flight that is searched with a view. */
export const posesAround = ({ poses }: SearchedFlight, { fromPose, toPose }: ViewOfPlace): FramePoses =>
  posesBetween(poses, Math.max(0, fromPose - AROUND_FRAMES), Math.min(poses.count - 1, toPose + AROUND_FRAMES));

/**
 * Whether a sighting without suspicion comes for the most part from synthetic events.
 * @param synthetic 1 for these, parallel to the rows of `events`
 */
export function isFoundAmong(
  flight: SearchedFlight,
  poses: FramePoses,
  events: PhotonEvents,
  synthetic: Uint8Array,
): boolean {
  const rays = raysOfEvents(events, poses, flight.lens, flight.blurSigmaPx);
  const { sightings } = findSightings({
    events,
    rays,
    poses,
    lens: flight.lens,
    corridor: flight.corridor,
    falseAlarmsPerHour: 1,
    seed: 1,
    sunAt: flight.sunAt,
    atLeastRatio: flight.threshold,
  });
  return sightings.some((sighting) => {
    if (sighting.suspicions.length > 0) return false;
    let own = 0;
    let all = 0;
    sighting.rays.forEach((ray, i) => {
      all += sighting.membership[i];
      if (synthetic[rays.event[ray]] === 1) own += sighting.membership[i];
    });
    return own > all / 2;
  });
}
