import { z } from 'zod';
import { llh, revision } from './quantities.ts';

export const flightOfCampaign = z.object({
  name: z.string(),
  startUtc: z.string(),
  endUtc: z.string(),
  rigId: z.string(),
  conditions: z.object({
    temperatureC: z.number(),
    pressureHPa: z.number(),
    relativeHumidityPct: z.number(),
    mainsHz: z.number(),
    weather: z.enum(['dry', 'rain', 'fog']),
    ozonePpb: z.number().optional(),
    ozoneSigmaPpb: z.number().optional(),
    visibilityKm: z.number().optional(),
    sun: z.enum(['clear', 'overcast', 'night']).optional(),
  }),
  uvFrames: z.int(),
  colourFrames: z.int(),
  photonEvents: z.int(),
  leftOut: z.record(z.string(), z.number()),
  falseAlarmsPerHourAsked: z.number(),
  quality: z.record(z.string(), z.union([z.string(), z.number()])),
  provenance: z.object({
    software: z.string(),
    registrationHash: z.string(),
    rigHash: z.string(),
    lineHash: z.string(),
    flightHash: z.string(),
    parametersHash: z.string(),
  }),
  /** Whether the server was given this flight's recording, so that its frames and streams can be asked for. */
  hasRecording: z.boolean(),
  /** Whether its photon events lie beside the campaign. */
  hasEvents: z.boolean(),
});

/** GET /api/campaign */
export const campaignAnswer = z.object({
  name: z.string(),
  revision,
  software: z.string(),
  line: z.object({ name: z.string(), owner: z.string(), voltageKv: z.number(), hash: z.string() }),
  /** Origin of the local east-north-up frame. */
  originLlh: llh,
  coordinateSystem: z.object({
    geodetic: z.literal('EPSG:4979'),
    local: z.literal('east-north-up at originLlh, metres'),
  }),
  counts: z.object({
    structures: z.int(),
    components: z.int(),
    conductors: z.int(),
    findings: z.int(),
    openFindings: z.int(),
    discharges: z.int(),
    sightings: z.int(),
    suspectSightings: z.int(),
    coverage: z.object({ finding: z.int(), clear: z.int(), notSeen: z.int() }),
  }),
  flights: z.array(flightOfCampaign),
  /** Recordings the server was given that are not in the campaign (yet). */
  furtherRecordings: z.array(z.string()),
  /** Whether this session may write; without it, deciding and jobs are refused with 401. */
  mayWrite: z.boolean(),
  /** A local tile file was given; its address. */
  tiles: z.string().nullable(),
});
export type CampaignAnswer = z.infer<typeof campaignAnswer>;
export type FlightOfCampaign = z.infer<typeof flightOfCampaign>;

/** GET /api/flights/:flight/trajectory */
export const trajectoryAnswer = z.object({
  flight: z.string(),
  count: z.int(),
  /** Times since the flight's epoch; null where the recording is not at hand: then only the kept track is answered. */
  tNs: z.array(z.number()).nullable(),
  lonDeg: z.array(z.number()),
  latDeg: z.array(z.number()),
  heightM: z.array(z.number()),
  eastM: z.array(z.number()),
  northM: z.array(z.number()),
  upM: z.array(z.number()),
  /** Along the line, where there is one. */
  alongM: z.array(z.number().nullable()),
});
export type TrajectoryAnswer = z.infer<typeof trajectoryAnswer>;
