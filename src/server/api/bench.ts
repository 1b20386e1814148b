import { z } from 'zod';
import { MODEL_KINDS } from '../../rig/Registration.ts';

/** How far one registration's overlay is from another's, at one range; null: at infinity. */
const movedAt = z.object({
  rangeM: z.number().nullable(),
  rmsPx: z.number(),
  worstPx: z.number(),
  expectedRmsPx: z.number(),
});

/** GET /api/bench: the registration in use and what is known of how good it is. */
export const benchAnswer = z.object({
  hash: z.string(),
  rigId: z.string(),
  recordedUtc: z.string(),
  temperatureC: z.number().nullable(),
  benchName: z.string(),
  software: z.string(),
  uvWidthPx: z.int(),
  uvHeightPx: z.int(),
  heldOutRmsPx: z.number(),
  noiseFloorPx: z.number(),
  correspondences: z.int(),
  framesUsed: z.int(),
  ladder: z.object({
    chosen: z.enum(MODEL_KINDS),
    foldedBy: z.string(),
    rows: z.array(
      z.object({
        kind: z.enum(MODEL_KINDS),
        parameters: z.int(),
        inSampleRmsPx: z.number().nullable(),
        heldOutRmsPx: z.number().nullable(),
        heldOutStandardErrorPx: z.number().nullable(),
        ownRangeHeldOutRmsPx: z.number().nullable(),
      }),
    ),
  }),
  support: z.object({
    uvHullPx: z.array(z.tuple([z.number(), z.number()])),
    nearestM: z.number(),
    farthestM: z.number(),
  }),
  bySweep: z.array(z.object({ name: z.string(), heldOutRmsPx: z.number(), correspondences: z.int() })),
  leftOut: z.array(z.object({ because: z.string(), frames: z.int() })),
  outliers: z.array(
    z.object({ frame: z.string(), mark: z.string(), camera: z.string(), residualPx: z.number(), sigmas: z.number() }),
  ),
  weaknesses: z.array(z.object({ what: z.string(), record: z.string() })),
  /** What the covariance says of the overlay, over the supported region: one sigma, colour px, by range. */
  byRange: z.array(z.object({ rangeM: z.number().nullable(), meanSigmaPx: z.number(), worstSigmaPx: z.number() })),
  /** Parallax between the images at a range against infinity, colour px: what a mapping without range would be wrong by. */
  parallax: z.array(z.object({ rangeM: z.number(), px: z.number() })),
  /** Held-out residuals of the correspondences, column by column; null where the bench run did not leave them. */
  residuals: z
    .object({
      count: z.int(),
      tNs: z.array(z.number()),
      sweep: z.array(z.string()),
      mark: z.array(z.string()),
      uPx: z.array(z.number()),
      vPx: z.array(z.number()),
      rangeM: z.array(z.number()),
      duPx: z.array(z.number().nullable()),
      dvPx: z.array(z.number().nullable()),
      asBuiltDuPx: z.array(z.number().nullable()),
      asBuiltDvPx: z.array(z.number().nullable()),
    })
    .nullable(),
  /** Against the registration before; null where the server was not given one. */
  comparison: z
    .union([
      z.object({
        kind: z.literal('compared'),
        lastHash: z.string(),
        lastRecordedUtc: z.string().nullable(),
        at: z.array(movedAt),
        pValue: z.number(),
        moved: z.boolean(),
      }),
      z.object({ kind: z.literal('refused'), because: z.string() }),
    ])
    .nullable(),
  /** Address of the certificate (HTML), where it lies beside the registration. */
  certificate: z.string().nullable(),
});
export type BenchAnswer = z.infer<typeof benchAnswer>;
