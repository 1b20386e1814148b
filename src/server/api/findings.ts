import { z } from 'zod';
import { QUEUE_REASONS } from '../../campaign/reviewQueue.ts';
import { CHANGE_KINDS } from '../../grade/change/tellChanges.ts';
import { PRIORITIES } from '../../grade/Grade.ts';
import { REASON_KEYS } from '../../grade/Reason.ts';
import { COMPONENT_KINDS } from '../../line/LineModel.ts';
import { SUSPICIONS } from '../../sighting/Sighting.ts';
import { enu, interval, llh, mat3, revision } from './quantities.ts';
import { DECISIONS, reviewLogEntry } from './review.ts';

/** One row of GET /api/findings. */
export const findingRow = z.object({
  id: z.string(),
  /** It is called F and this number, in the report too. */
  number: z.int(),
  revision,
  flight: z.string(),
  decision: z.enum(DECISIONS),
  comment: z.string(),
  priority: z.enum(PRIORITIES),
  rule: z.string(),
  expectedness: z.enum(['unexpected', 'borderline', 'expected']),
  componentId: z.string().nullable(),
  componentKind: z.enum(COMPONENT_KINDS).nullable(),
  structureIds: z.array(z.string()),
  circuit: z.string().nullable(),
  phase: z.string().nullable(),
  componentProbability: z.number(),
  positionLlh: llh,
  positionEnuM: enu,
  /** Along the line from its first structure, and to the right of it; null without structures. */
  alongM: z.number().nullable(),
  acrossM: z.number().nullable(),
  sigmaEnuM: enu,
  /** Half-axes of the 95 % ellipsoid, longest first. */
  halfAxes95M: z.tuple([z.number(), z.number(), z.number()]),
  /** Ellipse of the horizontal position alone, 95 %; bearing of its long axis from north. */
  horizontal95: z.object({ majorM: z.number(), minorM: z.number(), bearingDeg: z.number() }),
  vertical95M: z.number(),
  heldByLine: z.boolean(),
  /** Photons a second at the source, in the band. */
  rateHz: z.number(),
  rateInterval: interval,
  rays: z.int(),
  passes: z.int(),
  sightings: z.int(),
  nearestRangeM: z.number(),
  firstSeenUtc: z.string().nullable(),
  lastSeenUtc: z.string().nullable(),
  evidence: z.int().describe('number of pictures'),
  mergedInto: z.string().nullable(),
  splitFrom: z.string().nullable(),
  /** Place in the queue, from 1; null where no human is needed. */
  queuePlace: z.int().nullable(),
  queueReasons: z.array(z.enum(QUEUE_REASONS)),
});
export type FindingRow = z.infer<typeof findingRow>;

/** GET /api/findings */
export const findingsAnswer = z.object({
  revision,
  findings: z.array(findingRow),
  /** Those that were made part of another; they are not among the findings. */
  merged: z.array(findingRow),
});
export type FindingsAnswer = z.infer<typeof findingsAnswer>;

export const sightingOfFinding = z.object({
  id: z.string(),
  flight: z.string(),
  fromUtc: z.string(),
  toUtc: z.string(),
  /** Since the flight's epoch; null where its recording is not at hand. */
  fromNs: z.number().nullable(),
  toNs: z.number().nullable(),
  framesInView: z.int(),
  events: z.number(),
  logLikelihoodRatio: z.number(),
  falseAlarmsPerHour: z.number(),
  suspicions: z.array(z.enum(SUSPICIONS)),
  seedLlh: llh,
  seedEnuM: enu,
  note: z.string(),
  /** Places of the uv camera while it was in view, decimated, by turns east, north, up: the rays to the discharge. */
  viewpointsEnuM: z.array(z.number()),
});
export type SightingOfFinding = z.infer<typeof sightingOfFinding>;

export const evidenceOfFinding = z.object({
  /** Number among the pictures of this finding, from 0. */
  number: z.int(),
  /** Address of the colour crop, JPEG. */
  image: z.string(),
  flight: z.string(),
  utc: z.string(),
  tNs: z.number().nullable(),
  colourFrame: z.int(),
  rangeM: z.number(),
  cropLeftPx: z.number(),
  cropTopPx: z.number(),
  cropWidthPx: z.number(),
  cropHeightPx: z.number(),
  /** u, v by turns in pixels of the full colour image. */
  eventsColourPx: z.array(z.number()),
  dischargeColourPx: z.tuple([z.number(), z.number()]),
  overlaySigmaPx: z.number(),
  colourFocalPx: z.number().nullable(),
  accumulatedS: z.number(),
  cameraLlh: llh,
  cameraEnuM: enu,
  viewAzimuthDeg: z.number(),
  viewElevationDeg: z.number(),
});
export type EvidenceOfFinding = z.infer<typeof evidenceOfFinding>;

/** What an earlier campaign had at the place of a finding, as `corposant compare` found it. */
export const lastFinding = z.object({
  campaign: z.string(),
  id: z.string(),
  seenUtc: z.string(),
  change: z.enum(CHANGE_KINDS),
  rateHz: z.number(),
  rateInterval: interval,
  /** The picture that the comparison kept of it, if it had one. */
  evidenceList: z.array(evidenceOfFinding),
});
export type LastFinding = z.infer<typeof lastFinding>;

/** GET /api/findings/:id */
export const findingAnswer = findingRow.extend({
  covarianceEnuM2: mat3,
  systematicCovarianceEnuM2: mat3,
  /** Directions of the half-axes, in their order. */
  ellipsoidAxesEnu: z.tuple([enu, enu, enu]),
  /** The place with the mounting as stated, where a correction of it was adopted. */
  asMounted: z.object({ positionLlh: llh, positionEnuM: enu, covarianceEnuM2: mat3 }).nullable(),
  normalisedRms: z.number(),
  crossingDeg: z.number(),
  candidates: z.array(
    z.object({
      componentId: z.string().nullable(),
      componentKind: z.enum(COMPONENT_KINDS).nullable(),
      probability: z.number(),
      distanceM: z.number(),
      along: z.number(),
      disc: z.int().nullable(),
    }),
  ),
  restProbability: z.number(),
  attributionAdvice: z.string().nullable(),
  advice: z.string(),
  /** The reasons in English. */
  reasoning: z.string(),
  /** The same for any language; missing in campaigns of earlier releases. */
  reasons: z
    .array(
      z.object({
        key: z.enum(REASON_KEYS),
        values: z.record(z.string(), z.union([z.string(), z.number()])),
      }),
    )
    .optional(),
  rate: z.object({
    rateHz: z.number(),
    countingInterval: interval,
    interval,
    events: z.number(),
    overdispersion: z.number(),
    bandNm: z.tuple([z.number(), z.number()]),
    budget: z.array(z.object({ name: z.string(), relativeSigma: z.number() })),
    notes: z.array(z.string()),
  }),
  sightingList: z.array(sightingOfFinding),
  evidenceList: z.array(evidenceOfFinding),
  mergedFindingIds: z.array(z.string()),
  /** Others within three sigma of it, which it may be the same as. */
  nearby: z.array(z.object({ id: z.string(), distanceM: z.number(), sigmas: z.number() })),
  log: z.array(reviewLogEntry),
  /** null where no campaign was compared, or the earlier one had nothing there. */
  last: lastFinding.nullable(),
});
export type FindingAnswer = z.infer<typeof findingAnswer>;

/** GET /api/sightings: every sighting, also those not believed, column by column. */
export const sightingsAnswer = z.object({
  revision,
  count: z.int(),
  /** Names that `flight` counts into. */
  flights: z.array(z.string()),
  /** Names that the bits of `suspicions` stand for, lowest bit first. */
  suspicionNames: z.array(z.enum(SUSPICIONS)),
  id: z.array(z.string()),
  flight: z.array(z.int()),
  /** The finding it belongs to after review; null where it was not believed or not placed. */
  findingId: z.array(z.string().nullable()),
  /** Milliseconds since 1970, UTC. */
  fromUtcMs: z.array(z.number()),
  durationS: z.array(z.number()),
  eastM: z.array(z.number()),
  northM: z.array(z.number()),
  upM: z.array(z.number()),
  lonDeg: z.array(z.number()),
  latDeg: z.array(z.number()),
  framesInView: z.array(z.int()),
  events: z.array(z.number()),
  logLikelihoodRatio: z.array(z.number()),
  suspicions: z.array(z.int()),
});
export type SightingsAnswer = z.infer<typeof sightingsAnswer>;
