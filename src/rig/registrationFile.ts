import { createHash } from 'node:crypto';
import { z } from 'zod';
import { InputError } from '../input/InputError.ts';
import { parseWith } from '../input/parseWith.ts';
import type { Mat3 } from '../maths/mat3.ts';
import { MODEL_KINDS, type Registration, TWO_CAMERA_PARAMETER_COUNT } from './Registration.ts';

const number = z.number();
const positive = z.number().positive();
const lens = z.strictObject({
  widthPx: z.int().min(16),
  heightPx: z.int().min(16),
  fxPx: positive,
  fyPx: positive,
  cxPx: number,
  cyPx: number,
  k1: number,
  k2: number,
  p1: number,
  p2: number,
  k3: number,
});
const pixel = z.tuple([number, number]);
const known = number.nullable();

/** `registration.json`. Fields: docs/formats.md. */
export const registrationDocument = z.strictObject({
  format: z.literal('corposant-registration'),
  version: z.literal(1),
  rigId: z.string().min(1),
  model: z.strictObject({
    kind: z.enum(['two-camera', 'two-camera with residual field']),
    uv: lens,
    colour: lens,
    colourFromUv: z.strictObject({
      rotation: z.array(number).length(9),
      translation: z.tuple([number, number, number]),
    }),
    residualField: z.array(number).refine((f) => f.length === 0 || f.length === 20, 'no coefficient or 20 of them'),
  }),
  /** Row by row. */
  covariance: z
    .array(number)
    .length(TWO_CAMERA_PARAMETER_COUNT ** 2, `${TWO_CAMERA_PARAMETER_COUNT} x ${TWO_CAMERA_PARAMETER_COUNT} numbers`),
  support: z.strictObject({ uvHullPx: z.array(pixel), nearestM: number.min(0), farthestM: number.min(0) }),
  ladder: z.strictObject({
    chosen: z.enum(MODEL_KINDS),
    foldedBy: z.enum(['sweeps', 'blocks of time']),
    rows: z.array(
      z.strictObject({
        kind: z.enum(MODEL_KINDS),
        parameters: z.int(),
        inSampleRmsPx: known,
        heldOutRmsPx: known,
        heldOutStandardErrorPx: known,
        ownRangeHeldOutRmsPx: known,
      }),
    ),
  }),
  planeModels: z.array(
    z.strictObject({
      kind: z.enum(['shift', 'similarity', 'affine', 'projective', 'polynomial degree 2', 'polynomial degree 3']),
      coefficients: z.array(number),
      scale: z.strictObject({ centrePx: pixel, halfWidthPx: positive }),
    }),
  ),
  statistics: z.strictObject({
    heldOutRmsPx: number.min(0),
    noiseFloorPx: number.min(0),
    statedNoiseFloorPx: number.min(0),
    uvRmsPx: number.min(0),
    colourRmsPx: number.min(0),
    sigmaFactors: z.strictObject({ uv: positive, colour: positive }),
    bySweep: z.array(z.strictObject({ name: z.string(), heldOutRmsPx: number.min(0), correspondences: z.int() })),
    framesUsed: z.int(),
    correspondences: z.int(),
    leftOut: z.array(z.strictObject({ because: z.string(), frames: z.int() })),
    outliers: z.array(
      z.strictObject({
        frame: z.string(),
        mark: z.string(),
        camera: z.enum(['uv', 'colour']),
        residualPx: number,
        sigmas: number,
      }),
    ),
    clock: z
      .strictObject({
        offsetMs: number,
        offsetSigmaMs: number.min(0),
        driftPpm: number,
        driftSigmaPpm: number.min(0),
        aboutNs: number,
        speedPxPerS: number.min(0),
        samples: z.int(),
        applied: z.boolean(),
      })
      .nullable()
      .optional(),
    frameFaults: z
      .array(z.strictObject({ stream: z.enum(['uv', 'colour']), frame: z.string(), what: z.string() }))
      .optional(),
    rails: z
      .array(
        z.strictObject({
          sweep: z.string(),
          statedMps: number,
          speedMps: number,
          alongRmsMm: number.min(0),
          acrossRmsMm: number.min(0),
          frames: z.int(),
        }),
      )
      .optional(),
    offsets: z
      .array(
        z.strictObject({
          mark: z.string(),
          statedMm: pixel,
          statedSigmaMm: number.min(0),
          fromRunMm: pixel.nullable(),
          fromRunSigmaMm: pixel.nullable(),
          sigmasApart: pixel.nullable(),
          usedMm: pixel,
        }),
      )
      .optional(),
  }),
  weaknesses: z.array(z.strictObject({ what: z.string(), record: z.string() })),
  validity: z.strictObject({ recordedUtc: z.string(), temperatureC: known }),
  provenance: z.strictObject({
    software: z.string(),
    benchName: z.string(),
    benchHash: z.string(),
    rigHash: z.string(),
  }),
});
export type RegistrationDocument = z.infer<typeof registrationDocument>;

/** The text of a registration file: the same document gives the same bytes. */
export const serialiseRegistration = (document: RegistrationDocument): string =>
  `${JSON.stringify(document, null, 1)}\n`;

/**
 * Reads a registration file.
 * @param text whole content of the file
 * @param file its name, for messages
 * @throws InputError for text that is not JSON, for the first field that is missing or wrong, for a rotation that is
 *   none, and for a covariance that is none
 */
export function parseRegistration(
  text: string,
  file: string,
): { readonly registration: Registration; readonly document: RegistrationDocument } {
  let value: unknown;
  try {
    value = JSON.parse(text);
  } catch (error) {
    throw new InputError({
      file,
      found: `text that is not JSON (${(error as Error).message})`,
      expected: 'a registration file',
      todo: 'Make it anew with `corposant bench`.',
    });
  }
  const document = parseWith(registrationDocument, value, file);
  const { rotation, translation } = document.model.colourFromUv;
  const r = rotation as unknown as Mat3;
  for (let i = 0; i < 3; i++)
    for (let j = 0; j < 3; j++) {
      const product = r[3 * i] * r[3 * j] + r[3 * i + 1] * r[3 * j + 1] + r[3 * i + 2] * r[3 * j + 2];
      if (Math.abs(product - (i === j ? 1 : 0)) > 1e-9)
        throw new InputError({
          file,
          field: 'model.colourFromUv.rotation',
          found: `rows ${i} and ${j} with the product ${product}`,
          expected: 'an orthonormal matrix, row by row',
          todo: 'Do not edit or round the file; make it anew with `corposant bench`.',
        });
    }
  const n = TWO_CAMERA_PARAMETER_COUNT;
  for (let i = 0; i < n; i++)
    for (let j = 0; j <= i; j++) {
      const a = document.covariance[i * n + j];
      const b = document.covariance[j * n + i];
      if (
        Math.abs(a - b) <= 1e-9 * Math.sqrt(document.covariance[i * (n + 1)] * document.covariance[j * (n + 1)]) &&
        (i !== j || a >= 0)
      )
        continue;
      throw new InputError({
        file,
        field: `covariance (${i}, ${j})`,
        found: `${a} and ${b}`,
        expected: 'a symmetric matrix with variances from 0 up on its diagonal',
        todo: 'Do not edit the file; make it anew with `corposant bench`.',
      });
    }
  return {
    registration: {
      model: { ...document.model, colourFromUv: { rotation: r, translation } },
      covariance: Float64Array.from(document.covariance),
      support: document.support,
      heldOutRmsPx: document.statistics.heldOutRmsPx,
      hash: createHash('sha256').update(text).digest('hex'),
    },
    document,
  };
}
