import { z } from 'zod';
import { colourStream, epoch, name, positive, uvStream, vec3 } from './fields.ts';

const count = z.int().min(3).max(60);
const dictionary = z
  .string()
  .regex(
    /^(4x4|5x5|6x6|7x7)_(50|100|250|1000)$|^apriltag_(16h5|25h9|36h10|36h11)$/,
    'a dictionary such as 4x4_50, 6x6_250 or apriltag_36h11',
  );
const pattern = z.discriminatedUnion('kind', [
  z.strictObject({
    kind: z.literal('chessboard'),
    columns: count,
    rows: count,
    squareM: positive,
    firstCornerM: vec3,
    firstSquare: z.enum(['dark', 'bright']).optional(),
  }),
  z.strictObject({
    kind: z.literal('coded board'),
    dictionary,
    columns: count,
    rows: count,
    squareM: positive,
    markerM: positive,
    firstCornerM: vec3,
  }),
  z.strictObject({
    kind: z.literal('coded markers'),
    dictionary,
    markers: z
      .array(z.strictObject({ number: z.int().min(0).max(999), centreM: vec3, sideM: positive }))
      .min(1)
      .max(60),
  }),
]);
export type PatternDescription = z.infer<typeof pattern>;

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
      .array(
        z.strictObject({
          id: name,
          lampM: vec3,
          discM: vec3.optional(),
          discDiameterM: positive.optional(),
          holeDiameterM: positive.optional(),
        }),
      )
      .min(1)
      .max(64),
    pattern: pattern.optional(),
    offsets: z.enum(['stated', 'estimated']).optional(),
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
