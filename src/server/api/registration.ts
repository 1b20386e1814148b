import { z } from 'zod';

/** GET /api/registrations */
export const registrationsAnswer = z.object({
  registrations: z.array(
    z.object({
      hash: z.string(),
      which: z.enum(['current', 'previous', 'nominal']),
      rigId: z.string().nullable(),
      recordedUtc: z.string().nullable(),
      heldOutRmsPx: z.number(),
      model: z.string(),
    }),
  ),
});
export type RegistrationsAnswer = z.infer<typeof registrationsAnswer>;

const pixel = z.tuple([z.number(), z.number()]);

/** GET /api/registration/:hash/at?u=&v=&rangeM=&rangeSigmaM= : one uv pixel laid onto the colour image. */
export const overlayPoint = z.discriminatedUnion('kind', [
  z.object({
    kind: z.literal('mapped'),
    colourPx: pixel,
    /** [uu, uv, uv, vv] */
    covariancePx2: z.array(z.number()).length(4),
    /** Derivative by inverse range, px metres. */
    byInverseRange: pixel,
    support: z.string(),
  }),
  z.object({ kind: z.literal('refused'), because: z.string() }),
]);
export type OverlayPoint = z.infer<typeof overlayPoint>;
