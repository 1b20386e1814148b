import type { Llh } from '../earth/Llh.ts';
import type { ToldChange } from '../grade/change/tellChanges.ts';
import type { Grade } from '../grade/Grade.ts';
import type { PhotonRate } from '../grade/PhotonRate.ts';
import type { RuleTable } from '../grade/RuleTable.ts';
import type { Mat3 } from '../maths/mat3.ts';
import type { Vec3 } from '../maths/vec3.ts';
import type { Attribution } from '../place/Attribution.ts';
import type { SightingToPlace } from '../place/gatherDischarges.ts';
import type { Conditions } from '../recording/FlightDescription.ts';
import type { Suspicion } from '../sighting/Sighting.ts';

export type { Llh };

/** What a derived row was made from. Rows with equal provenance and equal code are equal to the byte. */
export interface Provenance {
  readonly software: string;
  readonly registrationHash: string;
  readonly rigHash: string;
  readonly lineHash: string;
  readonly flightHash: string;
  readonly parametersHash: string;
}

/** What a flight was inspected with, in full: the hashes of the provenance say the same in brief. */
export interface InspectionSettings {
  /** Table of photon events, as a path relative to the campaign's folder, and its SHA-256. */
  readonly eventsFile: string;
  readonly eventsHash: string;
  readonly parameters: Readonly<Record<string, unknown>>;
  readonly rules: RuleTable;
  readonly registration: Readonly<Record<string, string | number | boolean>>;
  readonly mounting: Readonly<Record<string, string | number | readonly number[]>>;
}

/** The rays of one sighting, columns of one length: row in the event table, frame, time, pixel, probability of belonging. */
export interface SightingRays {
  readonly event: readonly number[];
  readonly frame: readonly number[];
  readonly tNs: readonly number[];
  readonly xPx: readonly number[];
  readonly yPx: readonly number[];
  readonly membership: readonly number[];
}

export interface FlightRecord {
  readonly name: string;
  readonly startUtc: string;
  readonly endUtc: string;
  readonly rigId: string;
  readonly conditions: Conditions;
  readonly uvFrames: number;
  readonly colourFrames: number;
  readonly photonEvents: number;
  /** Frames left out of the count, by reason. */
  readonly leftOut: Readonly<Record<string, number>>;
  readonly trackLlh: readonly Llh[];
  readonly falseAlarmsPerHourAsked: number;
  readonly quality: Readonly<Record<string, string | number>>;
  readonly provenance: Provenance;
}

/** One sighting as kept: with its flight, its own strength, and the discharge it was placed in (null = suspect or unplaced). */
export interface SightingRecord {
  readonly id: string;
  readonly flight: string;
  readonly dischargeId: string | null;
  readonly fromUtc: string;
  readonly toUtc: string;
  readonly framesInView: number;
  readonly events: number;
  readonly logLikelihoodRatio: number;
  readonly falseAlarmsPerHour: number;
  readonly suspicions: readonly Suspicion[];
  readonly seedLlh: Llh;
  readonly note: string;
}

export interface DischargeRecord {
  readonly id: string;
  readonly positionLlh: Llh;
  readonly positionEnuM: Vec3;
  readonly covarianceEnuM2: Mat3;
  readonly systematicCovarianceEnuM2: Mat3;
  readonly rays: number;
  readonly passes: number;
  readonly normalisedRms: number;
  readonly nearestRangeM: number;
  readonly crossingDeg: number;
  readonly heldByLine: boolean;
  readonly rate: PhotonRate;
  readonly attribution: Attribution;
  /** The place with the mounting as stated, where a correction of it was adopted. */
  readonly asMounted?: { readonly positionLlh: Llh; readonly positionEnuM: Vec3; readonly covarianceEnuM2: Mat3 };
}

/** What one flight by itself says of its discharges, and all that they are placed again from with those of other flights. */
export interface FlightPlacing {
  readonly flight: string;
  readonly startUtc: string;
  readonly conditions: Conditions;
  /** Ids as the records of sightings have them. */
  readonly sightings: readonly SightingToPlace[];
  readonly own: readonly {
    readonly sightingIds: readonly string[];
    readonly record: DischargeRecord;
    readonly finding: FindingRecord;
  }[];
}

/** A discharge on a component, graded. `id` is the discharge's. */
export interface FindingRecord {
  readonly id: string;
  readonly componentId: string | null;
  readonly componentProbability: number;
  readonly grade: Grade;
  /** The reviewer's word, where there is one. */
  readonly decision: 'open' | 'confirmed' | 'rejected';
  readonly comment: string;
  /** Where a reviewer said that it is the same discharge as another: that one's id. It is then no finding of its own. */
  readonly mergedInto?: string;
  /** Where a reviewer took it out of another: that one's id. */
  readonly splitFrom?: string;
}

/** One pair of pictures that shows a finding. */
export interface EvidenceRecord {
  readonly findingId: string;
  /** The id that its flight gave the discharge by itself. */
  readonly ownFindingId?: string;
  readonly flight: string;
  readonly utc: string;
  readonly colourFrame: number;
  readonly rangeM: number;
  /** Crop of the colour image, JPEG, with the pixel of its top left corner in the full image. */
  readonly colourJpeg: Uint8Array;
  readonly cropLeftPx: number;
  readonly cropTopPx: number;
  readonly cropWidthPx: number;
  readonly cropHeightPx: number;
  /** Photon events laid over the colour image at the range of the discharge: u, v in full-image colour px, by turns. */
  readonly eventsColourPx: readonly number[];
  /** Where the discharge itself falls, and one sigma of the overlay there. */
  readonly dischargeColourPx: readonly [number, number];
  readonly overlaySigmaPx: number;
  /** Pixels per radian of the colour camera at the discharge, for a scale bar; missing where it was not recorded. */
  readonly colourFocalPx?: number;
  /** Events accumulated from this time to that, seconds. */
  readonly accumulatedS: number;
  /** Position of the uv camera, and of the colour camera's axis, for the sketch. */
  readonly cameraLlh: Llh;
  readonly viewAzimuthDeg: number;
  readonly viewElevationDeg: number;
}

/** What was seen of one component: "clear" always names the weakest discharge that would have been found. */
export interface CoverageRecord {
  readonly componentId: string;
  readonly state: 'finding' | 'clear' | 'not seen';
  readonly framesInView: number;
  readonly nearestRangeM: number | null;
  /** Photons per second at the source that would have been found with 95 %; null where not seen. */
  readonly limitHz: number | null;
  /** How it was looked at; missing where an earlier release inspected the flight. */
  readonly view?: CoverageView;
}

/** How the worst seen part of a component was looked at. */
export interface CoverageView {
  /** Share of the component's length that has a limit. */
  readonly coveredShare: number;
  readonly passes: number;
  /** One a pass, at the nearest approach: from north, and above the level. */
  readonly azimuthsDeg: readonly number[];
  readonly elevationsDeg: readonly number[];
  readonly farthestRangeM: number | null;
  /** Exposure in all. */
  readonly exposureS: number;
  /** Smear during one exposure at the nearest approach of the sharpest pass; null: not in view. */
  readonly smearPx: number | null;
  /** Share of its light that other hardware, wires and towers kept from the camera. */
  readonly hiddenShare: number;
  /** Component or structure that kept most of it. */
  readonly hiddenBy: string | null;
  /** Why it is to be flown again; null where it need not be. */
  readonly flyAgain: string | null;
}

export type ReviewWord =
  | 'confirmed'
  | 'rejected'
  | 'reopened'
  | 'comment'
  | 'component'
  | 'merge'
  | 'split'
  | 'undo'
  | 'redo';

export interface ReviewEntry {
  readonly findingId: string;
  readonly atUtc: string;
  readonly who: string;
  readonly what: ReviewWord;
  /** Comment, component, id of the finding split off, or number of the act taken back: as `what` says. */
  readonly value: string;
  readonly why?: string;
}

/** The comparison of this campaign with an earlier one. */
export interface ComparisonRecord {
  readonly earlierCampaign: string;
  /** First start and last end of the earlier campaign's flights. */
  readonly earlierFromUtc: string;
  readonly earlierToUtc: string;
  /** Identity of what was compared: SHA-256 over the results of all flights, earlier and this. */
  readonly earlierResultHash: string;
  readonly resultHash: string;
  readonly software: string;
  readonly parameters: Readonly<Record<string, unknown>>;
  /** Rules that the findings were graded by anew, by the name of the table. */
  readonly rules: string;
  /** What a reader has to know: other line models, rejected findings left out. */
  readonly remarks: readonly string[];
}

/** An earlier finding, as its campaign told it: kept with the change, so that a report needs no other file. */
export interface EarlierFinding {
  readonly id: string;
  readonly campaign: string;
  readonly seenUtc: string;
  readonly rate: PhotonRate;
  readonly priority: Grade['priority'];
  readonly decision: FindingRecord['decision'];
  readonly comment: string;
  readonly componentId: string | null;
  readonly positionLlh: Llh;
  readonly nearestRangeM: number;
  readonly passes: number;
  readonly conditions: Conditions;
}

/** What became of one finding between two campaigns. */
export interface ChangeRecord extends ToldChange {
  readonly componentId: string | null;
  readonly positionLlh: Llh;
  /** Newest first: the finding of the earlier campaign, then of those before it. Empty where there was none. */
  readonly history: readonly EarlierFinding[];
}
