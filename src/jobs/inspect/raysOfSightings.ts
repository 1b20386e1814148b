import type { SightingRays } from '../../campaign/records.ts';
import type { PhotonEvents } from '../../photon/PhotonEvents.ts';
import type { EventRays } from '../../sighting/EventRays.ts';
import type { Sighting } from '../../sighting/Sighting.ts';
import { slug } from './composeResult.ts';

/** Events less likely than this to belong to a sighting are not kept with it. */
const LEAST_MEMBERSHIP = 0.01;

/** What each sighting rests on, event by event, so that a finding can be followed down to rows of the event table. */
export function raysOfSightings(
  flight: string,
  sightings: readonly Sighting[],
  rays: EventRays,
  events: PhotonEvents,
): Record<string, SightingRays> {
  return Object.fromEntries(
    sightings.map((sighting) => {
      const kept = [...sighting.rays.keys()].filter((i) => sighting.membership[i] >= LEAST_MEMBERSHIP);
      const event = kept.map((i) => rays.event[sighting.rays[i]]);
      const own: SightingRays = {
        event,
        frame: event.map((row) => events.frame[row]),
        tNs: event.map((row) => events.tNs[row]),
        xPx: event.map((row) => events.xPx[row]),
        yPx: event.map((row) => events.yPx[row]),
        membership: kept.map((i) => Number(sighting.membership[i].toFixed(4))),
      };
      return [`${slug(flight)}-${sighting.id}`, own];
    }),
  );
}
