import { z } from 'zod';
import { enu, llh } from './quantities.ts';

const positive = z.number().positive();

/** POST /api/plan: what `corposant plan` takes, with its defaults; rig, registration and line are those of the server. */
export const planRequest = z.object({
  standoffsM: z.array(positive.max(500)).min(1).max(12).default([40]),
  speedsMps: z.array(positive.max(100)).min(1).max(12).default([15]),
  frameRateHz: positive.max(1000).default(50),
  exposureMs: positive.max(1000).default(18),
  colourExposureMs: positive.max(1000).default(1),
  gain: z.number().nullable().default(null).describe("null: the middle of the rig's gain curve"),
  voltageKv: positive.nullable().default(null).describe('null: that of the line'),
  depthM: positive.max(200).nullable().default(null),
  turnDegps: z.number().min(0).max(90).default(5),
  positionSigmaM: positive.max(50).default(0.03),
  tiltSigmaDeg: positive.max(20).default(0.01),
  headingSigmaDeg: positive.max(45).default(0.03),
  mainsHz: positive.max(100).default(50),
  backgroundPerFrame: positive.max(10000).default(5),
  pixelNoiseDn: positive.max(10000).default(1.2),
  acknowledgeApproach: z.boolean().default(false),
  /** Passes take longer than figures: sliders leave them away until they rest. */
  withPasses: z.boolean().default(true),
});
export type PlanRequest = z.input<typeof planRequest>;

const swath = z.object({ alongM: z.number(), upM: z.number() });
const expectedPosition = z.discriminatedUnion('kind', [
  z.object({
    kind: z.literal('placed'),
    sigma: z.object({ acrossM: z.number(), alongM: z.number(), upM: z.number() }),
    crossingDeg: z.number(),
  }),
  z.object({ kind: z.literal('refused'), because: z.string() }),
]);
const approach = z.object({ publication: z.string(), meaning: z.string(), distanceM: z.number() });

export const planRow = z.object({
  standoffM: z.number(),
  speedMps: z.number(),
  uvSamplingM: z.number(),
  colourSamplingM: z.number(),
  uvSwathM: swath,
  colourSwathM: swath,
  parallaxAtStandoffPx: z.number(),
  parallaxOverDepthPx: z.number(),
  rangeNeededM: z.number(),
  uvSmearPx: z.number(),
  uvSmearByTurnPx: z.number(),
  colourSmearPx: z.number(),
  framesInView: z.number(),
  eventsNeeded: z.number().nullable(),
  limitHz: z.number().nullable(),
  /** One ray across itself, 1 sigma. */
  budget: z.object({ parts: z.array(z.object({ name: z.string(), sigmaM: z.number() })), acrossM: z.number() }),
  onePass: expectedPosition,
  bothSides: expectedPosition,
});

export const planAnswer = z.discriminatedUnion('kind', [
  z.object({
    kind: z.literal('planned'),
    rig: z.string(),
    line: z.string().nullable(),
    voltageKv: z.number().nullable(),
    approach: z.array(approach),
    /** What has to stand beside every such distance. */
    caution: z.string(),
    gain: z.number(),
    readout: z.object({
      meanChargeDn: z.number(),
      meanPeakDn: z.number(),
      foundShare: z.number(),
      saturatedShare: z.number(),
    }),
    depthM: z.number(),
    rows: z.array(planRow),
    passes: z
      .discriminatedUnion('kind', [
        z.object({
          kind: z.literal('proposed'),
          passes: z.array(
            z.object({
              name: z.string(),
              lengthM: z.number(),
              clearanceM: z.number(),
              nearestId: z.string(),
              waypoints: z.array(
                z.object({
                  positionEnuM: enu.describe("in the campaign's local frame"),
                  positionLlh: llh,
                  headingDeg: z.number(),
                  structureId: z.string().nullable(),
                }),
              ),
            }),
          ),
        }),
        z.object({ kind: z.literal('refused'), because: z.string() }),
      ])
      .nullable(),
    assumed: z.array(z.string()),
    warnings: z.array(z.string()),
  }),
  z.object({
    kind: z.literal('refused'),
    because: z.string(),
    approach: z.array(approach),
    caution: z.string(),
    voltageKv: z.number().nullable(),
  }),
]);
export type PlanAnswer = z.infer<typeof planAnswer>;
