import type { Grade } from '../grade/Grade.ts';
import type { LineModel } from '../line/LineModel.ts';
import type {
  ChangeRecord,
  ComparisonRecord,
  CoverageRecord,
  DischargeRecord,
  EvidenceRecord,
  FindingRecord,
  FlightPlacing,
  FlightRecord,
  InspectionSettings,
  Llh,
  Provenance,
  ReviewEntry,
  SightingRays,
  SightingRecord,
} from './records.ts';

/** What one inspection adds to a campaign, in one transaction: all of it or nothing. */
export interface InspectionResult {
  readonly flight: FlightRecord;
  readonly sightings: readonly SightingRecord[];
  readonly discharges: readonly DischargeRecord[];
  readonly findings: readonly FindingRecord[];
  readonly evidence: readonly EvidenceRecord[];
  readonly coverage: readonly CoverageRecord[];
  /** Rays of each sighting, by its id. */
  readonly rays?: Readonly<Record<string, SightingRays>>;
  readonly settings?: InspectionSettings;
  /** What this flight's discharges can be placed again from, together with another flight's. */
  readonly placing?: FlightPlacing;
  /**
   * Where flights are placed together: `discharges` and `findings` are then those of all of them, and replace theirs.
   */
  readonly joint?: {
    readonly flights: readonly string[];
    /** The flight in which each discharge was seen first. */
    readonly homeOf: Readonly<Record<string, string>>;
    /** For the sightings of all these flights; null where it is in no discharge. */
    readonly dischargeOf: Readonly<Record<string, string | null>>;
    /** From the id that a flight gave a discharge to the one it has now. */
    readonly renamed: Readonly<Record<string, string>>;
  };
}

/** What a comparison adds to a campaign, in one transaction. */
export interface ComparisonResult {
  readonly comparison: ComparisonRecord;
  readonly changes: readonly ChangeRecord[];
  /** Grades of this campaign's findings, made anew with what is known of the change. */
  readonly grades: ReadonlyMap<string, Grade>;
  /** A picture of the earlier campaign for a finding of this one, or for one that is gone (then by its earlier id). */
  readonly pictures: ReadonlyMap<string, EvidenceRecord>;
}

/** The store of a campaign; the embedded one is a GeoPackage file. All calls are synchronous and atomic. */
export interface CampaignStore {
  /** Sets name, origin and line once; later calls must agree with it or are an InputError. */
  initialise(about: { name: string; originLlh: Llh; line: LineModel; lineHash: string }): void;
  about(): { name: string; originLlh: Llh; lineHash: string; schemaVersion: number } | null;
  line(): LineModel;
  /** The provenance under which this flight was inspected, or null where it was not. */
  inspectionOf(flightName: string): Provenance | null;
  /** Of every flight that can be placed together with others. */
  flightPlacings(): readonly FlightPlacing[];
  /** Replaces whatever an earlier inspection of the same flight left. The review log stays; a decision stands where its discharge does. */
  saveInspection(result: InspectionResult): void;
  flights(): readonly FlightRecord[];
  sightings(): readonly SightingRecord[];
  discharges(): readonly DischargeRecord[];
  findings(): readonly FindingRecord[];
  /** Number of every finding, merged ones too. See `findingNumbers`. */
  findingNumbers(): ReadonlyMap<string, number>;
  evidenceOf(findingId: string): readonly EvidenceRecord[];
  coverage(): readonly CoverageRecord[];
  /** Rays that a sighting rests on; null where the release that inspected did not keep them. */
  raysOf(sightingId: string): SightingRays | null;
  settingsOf(flightName: string): InspectionSettings | null;
  /** SHA-256 over the results of all flights: equal where two campaigns hold the same. */
  resultHash(): string;
  /** Replaces an earlier comparison. A new inspection drops it, since it speaks of findings that are no more. */
  saveComparison(result: ComparisonResult): void;
  comparison(): ComparisonRecord | null;
  changes(): readonly ChangeRecord[];
  /** Picture of the earlier campaign kept with a change, by the finding's id, or the earlier one's where it is gone. */
  earlierPictureOf(findingId: string): EvidenceRecord | null;
  review(entry: ReviewEntry): void;
  reviewLog(): readonly ReviewEntry[];
  close(): void;
}
