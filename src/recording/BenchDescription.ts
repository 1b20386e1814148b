import { z } from 'zod';
import { colourStream, epoch, name, positive, uvStream, vec3 } from './fields.ts';

/** `bench.json`: a calibration recording of a target moved in front of the rig. Fields: docs/formats.md. */
export const benchDescription = z.strictObject({
  format: z.literal('corposant-bench'),
  version: z.literal(1),
  name,
  rigId: name,
  epoch,
  streams: z.strictObject({ uv: uvStream, colour: colourStream }),
  target: z.strictObject({
    marks: z
      .array(z.strictObject({ id: name, lampM: vec3, discM: vec3, discDiameterM: positive }))
      .min(1)
      .max(64),
    sigmaM: positive,
  }),
  sweeps: z
    .array(
      z.strictObject({
        name,
        fromNs: z.int().min(0),
        toNs: z.int().min(0),
        rangeM: positive,
        rangeSigmaM: positive,
        rail: z.strictObject({ speedMps: positive, speedSigmaMps: positive, straysM: positive }).optional(),
      }),
    )
    .min(1),
  conditions: z.strictObject({ temperatureC: z.number().min(-60).max(60) }).optional(),
});
export type BenchDescription = z.infer<typeof benchDescription>;
