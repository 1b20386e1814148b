import { existsSync } from 'node:fs';
import { basename, dirname, join } from 'node:path';
import type { ReviewableCampaign } from '../campaign/ReviewableCampaign.ts';
import type {
  ChangeRecord,
  CoverageRecord,
  DischargeRecord,
  FindingRecord,
  FlightRecord,
  SightingRecord,
} from '../campaign/records.ts';
import { type Neighbour, neighboursOf, type QueuedFinding, reviewQueue } from '../campaign/reviewQueue.ts';
import { type LocalFrame, localFrameAt } from '../earth/LocalFrame.ts';
import type { LineComponent, LineModel } from '../line/LineModel.ts';
import type { Vec3 } from '../maths/vec3.ts';
import { alongLine, type PlaceAlongLine } from './alongLine.ts';

/** A campaign as it stood at one revision. Parts are read when they are first asked for, and kept. */
export class CampaignView {
  readonly revision: string;
  private readonly store: ReviewableCampaign;
  private readonly kept = new Map<string, unknown>();

  constructor(store: ReviewableCampaign) {
    this.store = store;
    this.revision = store.revision();
  }

  get about(): { name: string; originLlh: readonly [number, number, number]; lineHash: string } {
    return this.once('about', () => {
      const about = this.store.about();
      if (about === null) throw new Error('a campaign without a line was opened');
      return about;
    });
  }

  get frame(): LocalFrame {
    return this.once('frame', () => localFrameAt(this.about.originLlh));
  }

  get line(): LineModel {
    return this.once('line', () => this.store.line());
  }

  get componentById(): ReadonlyMap<string, LineComponent> {
    return this.once('components', () => new Map(this.line.components.map((one) => [one.id, one])));
  }

  get along(): ((placeEnuM: Vec3) => PlaceAlongLine) | null {
    return this.once('along', () => alongLine(this.line));
  }

  get flights(): readonly FlightRecord[] {
    return this.once('flights', () => this.store.flights());
  }

  get findings(): readonly FindingRecord[] {
    return this.once('findings', () => this.store.findings());
  }

  get mergedFindings(): readonly FindingRecord[] {
    return this.once('merged', () => this.store.mergedFindings());
  }

  /** The finding that a discharge counts to: itself, or the one it was made part of; null for none. */
  findingOf(dischargeId: string | null): string | null {
    const into = this.once('merged into', () => new Map(this.mergedFindings.map((one) => [one.id, one.mergedInto!])));
    let id = dischargeId;
    while (id !== null && into.has(id)) id = into.get(id)!;
    return id;
  }

  get findingNumbers(): ReadonlyMap<string, number> {
    return this.once('finding numbers', () => this.store.findingNumbers());
  }

  /** What became of each finding since an earlier campaign, by its name in this one. */
  get changeOf(): ReadonlyMap<string, ChangeRecord> {
    return this.once(
      'changes',
      () => new Map(this.store.changes().flatMap((one) => (one.laterId === null ? [] : [[one.laterId, one] as const]))),
    );
  }

  get neighbours(): ReadonlyMap<string, readonly Neighbour[]> {
    return this.once('neighbours', () => neighboursOf(this.findings, this.discharges));
  }

  get queue(): ReadonlyMap<string, QueuedFinding & { readonly place: number }> {
    return this.once(
      'queue',
      () => new Map(reviewQueue(this.findings, this.discharges).map((one, i) => [one.id, { ...one, place: i + 1 }])),
    );
  }

  get evidenceCounts(): ReadonlyMap<string, number> {
    return this.once('evidence counts', () => this.store.evidenceCounts());
  }

  get flightOfFinding(): ReadonlyMap<string, string> {
    return this.once('flight of finding', () => this.store.flightByFinding());
  }

  get findingRevisions(): ReadonlyMap<string, string> {
    return this.once('revisions', () => this.store.findingRevisions());
  }

  get discharges(): ReadonlyMap<string, DischargeRecord> {
    return this.once('discharges', () => new Map(this.store.discharges().map((one) => [one.id, one])));
  }

  get sightings(): readonly SightingRecord[] {
    return this.once('sightings', () => this.store.sightings());
  }

  /** Those that belong to a finding: a table of fifty thousand holds few of them. */
  get placedSightings(): readonly SightingRecord[] {
    return this.once('placed sightings', () => this.store.placedSightings());
  }

  get sightingCounts(): { readonly all: number; readonly suspect: number } {
    return this.once('sighting counts', () => this.store.sightingCounts());
  }

  get coverage(): ReadonlyMap<string, CoverageRecord> {
    return this.once('coverage', () => new Map(this.store.coverage().map((one) => [one.componentId, one])));
  }

  /** Makes something of this revision once. */
  once<T>(name: string, make: () => T): T {
    if (!this.kept.has(name)) this.kept.set(name, make());
    return this.kept.get(name) as T;
  }
}

/** The open campaign, and the view of its newest revision. */
export class OpenCampaign {
  readonly file: string;
  readonly store: ReviewableCampaign;
  private view: CampaignView | null = null;

  constructor(file: string, store: ReviewableCampaign) {
    this.file = file;
    this.store = store;
  }

  /** Asks the file each time, so that what another process wrote is seen at once: under a millisecond. */
  now(): CampaignView {
    if (this.view?.revision !== this.store.revision()) this.view = new CampaignView(this.store);
    return this.view!;
  }

  get stem(): string {
    return join(dirname(this.file), basename(this.file).replace(/\.gpkg$/i, ''));
  }

  /** Where an inspection keeps the photon events of a flight; null where it is not there. */
  eventsFileOf(flight: string): string | null {
    const file = join(`${this.stem}.events`, `${flight.replace(/[^\p{L}\p{N}._-]+/gu, '-')}.parquet`);
    return existsSync(file) ? file : null;
  }
}
