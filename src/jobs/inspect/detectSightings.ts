import { join } from 'node:path';
import type { LocalFrame } from '../../earth/LocalFrame.ts';
import type { PhotonEvents } from '../../photon/PhotonEvents.ts';
import type { OpenedFlight } from '../../recording/openFlight.ts';
import type { RigDescription } from '../../recording/RigDescription.ts';
import type { Mounting } from '../../rig/Mounting.ts';
import type { Registration } from '../../rig/Registration.ts';
import type { EventRays, FramePoses, SearchCorridor } from '../../sighting/EventRays.ts';
import { findSightings, type SightingReport } from '../../sighting/findSightings.ts';
import { framePoses } from '../../sighting/framePoses.ts';
import { raysOfEvents } from '../../sighting/raysOfEvents.ts';
import { buildTrack } from '../../trajectory/buildTrack.ts';
import type { Track } from '../../trajectory/Track.ts';
import { PARAMETERS } from './parameters.ts';
import { sunOverFlight } from './sunOverFlight.ts';

/** The events of a flight as rays in space. */
export interface PosedEvents {
  readonly track: Track;
  readonly poses: FramePoses;
  /** Frames without a pose, by the reason the trajectory gives. */
  readonly refused: Readonly<Record<string, number>>;
  readonly rays: EventRays;
}

/** What turns the events of a flight into sightings. */
export interface FlightUnderMounting {
  readonly flight: OpenedFlight;
  readonly rig: RigDescription;
  readonly registration: Registration;
  readonly mounting: Mounting;
  readonly frame: LocalFrame;
}

export function poseEvents(
  { flight, rig, registration, mounting, frame }: FlightUnderMounting,
  events: PhotonEvents,
): PosedEvents {
  const track = buildTrack(flight.trajectory, frame, { file: join(flight.folder, flight.description.trajectory.file) });
  const { poses, refused } = framePoses(track, mounting, flight.uvIndex);
  return {
    track,
    poses,
    refused,
    rays: raysOfEvents(events, poses, registration.model.uv, rig.cameras.uv.blurSigmaPx),
  };
}

export function detectSightings(
  { flight, registration, frame }: FlightUnderMounting,
  events: PhotonEvents,
  { poses, rays }: PosedEvents,
  corridor: SearchCorridor,
  falseAlarmsPerHour: number,
): SightingReport {
  return findSightings({
    events,
    rays,
    poses,
    lens: registration.model.uv,
    corridor,
    falseAlarmsPerHour,
    seed: PARAMETERS.seed,
    sunAt: sunOverFlight(flight, frame),
  });
}
