import { z } from 'zod';
import { epoch, name, uvStream } from './fields.ts';

/** `series.json`: uv frames at several gains and exposures, to measure the camera itself. Fields: docs/formats.md. */
export const seriesDescription = z.strictObject({
  format: z.literal('corposant-series'),
  version: z.literal(1),
  name,
  rigId: name,
  epoch,
  streams: z.strictObject({ uv: uvStream }),
  parts: z
    .array(
      z.strictObject({
        name,
        light: z.enum(['none', 'even', 'lamp']),
        fromNs: z.int().min(0),
        toNs: z.int().min(0),
      }),
    )
    .min(1),
  conditions: z.strictObject({ temperatureC: z.number().min(-60).max(60) }).optional(),
});
export type SeriesDescription = z.infer<typeof seriesDescription>;
