import type { LineModel } from '../line/LineModel.ts';
import type {
  CoverageRecord,
  DischargeRecord,
  EvidenceRecord,
  FindingRecord,
  FlightRecord,
  Llh,
  Provenance,
  ReviewEntry,
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
}

/** The store of a campaign; the embedded one is a GeoPackage file. All calls are synchronous and atomic. */
export interface CampaignStore {
  /** Sets name, origin and line once; later calls must agree with it or are an InputError. */
  initialise(about: { name: string; originLlh: Llh; line: LineModel; lineHash: string }): void;
  about(): { name: string; originLlh: Llh; lineHash: string; schemaVersion: number } | null;
  line(): LineModel;
  /** The provenance under which this flight was inspected, or null where it was not. */
  inspectionOf(flightName: string): Provenance | null;
  /** Replaces whatever an earlier inspection of the same flight left. The review log stays; a decision stands where its discharge does. */
  saveInspection(result: InspectionResult): void;
  flights(): readonly FlightRecord[];
  sightings(): readonly SightingRecord[];
  discharges(): readonly DischargeRecord[];
  findings(): readonly FindingRecord[];
  evidenceOf(findingId: string): readonly EvidenceRecord[];
  coverage(): readonly CoverageRecord[];
  review(entry: ReviewEntry): void;
  reviewLog(): readonly ReviewEntry[];
  close(): void;
}
