import { stat } from 'node:fs/promises';
import { type PhotonEventColumns, readPhotonEvents } from '../recording/photonEventTable.ts';
import type { OpenCampaign } from './CampaignView.ts';
import { notFound } from './problemOf.ts';
import type { RecordingShelf } from './RecordingShelf.ts';

/** Flights whose events are kept in memory: 42 bytes an event. */
const MOST_KEPT = 2;

/** Photon events of the flights that are looked at: of the recording itself, or of the table that an inspection left. */
export class EventShelf {
  private readonly campaign: OpenCampaign;
  private readonly flights: RecordingShelf;
  private readonly kept = new Map<string, { readonly stamp: string; readonly events: Promise<PhotonEventColumns> }>();

  constructor(campaign: OpenCampaign, flights: RecordingShelf) {
    this.campaign = campaign;
    this.flights = flights;
  }

  /** @throws HttpProblem 404 where there are none */
  async of(flight: string): Promise<PhotonEventColumns> {
    const recorded = this.flights.has(flight) ? (await this.flights.flight(flight)).events : null;
    if (recorded !== null) return recorded;
    const file = this.campaign.eventsFileOf(flight);
    if (file === null)
      throw notFound(`There are no photon events of '${flight}' beside the campaign.`, 'Inspect the flight.');
    const { mtimeMs, size } = await stat(file);
    const stamp = `${mtimeMs} ${size}`;
    const before = this.kept.get(flight);
    if (before?.stamp === stamp) return before.events;
    const events = readPhotonEvents(file);
    events.catch(() => this.kept.delete(flight));
    this.kept.delete(flight);
    this.kept.set(flight, { stamp, events });
    for (const oldest of this.kept.keys()) if (this.kept.size > MOST_KEPT) this.kept.delete(oldest);
    return events;
  }
}

/** Rows from the first at or after one time to the last before another. */
export function rowsBetween(tNs: Float64Array, count: number, fromNs: number, toNs: number): [number, number] {
  const firstAtOrAfter = (t: number): number => {
    let [low, high] = [0, count];
    while (low < high) {
      const middle = (low + high) >> 1;
      if (tNs[middle] < t) low = middle + 1;
      else high = middle;
    }
    return low;
  };
  return [firstAtOrAfter(fromNs), firstAtOrAfter(toNs)];
}
