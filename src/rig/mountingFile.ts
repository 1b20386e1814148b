import { createHash } from 'node:crypto';
import { z } from 'zod';
import { InputError } from '../input/InputError.ts';
import { parseWith } from '../input/parseWith.ts';
import type { Mat3 } from '../maths/mat3.ts';
import type { Mounting } from './Mounting.ts';

const number = z.number();
const text = z.string();
const MOUNTING_COUNT = 7;
/** With the lens. */
const TOGETHER_COUNT = 16;
const placement = z.strictObject({
  /** Row by row. */
  rotation: z.array(number).length(9),
  translation: z.tuple([number, number, number]),
});

/** `mounting.json`. Fields: docs/formats.md. */
export const mountingDocument = z.strictObject({
  format: z.literal('corposant-mounting'),
  version: z.literal(1),
  rigId: text.min(1),
  bodyFromUv: placement,
  timeOffsetNs: number,
  /** 7 x 7, row by row: boresight (rad), lever arm (m), time offset (s). */
  covariance: z.array(number).length(MOUNTING_COUNT ** 2, '7 x 7 numbers'),
  /** For use with the registration of this hash, whose lens is then taken as it stands. */
  withRegistration: z.strictObject({
    hash: text,
    bodyFromUv: placement,
    timeOffsetNs: number,
    /** 16 x 16, row by row: as above, then the nine of the uv lens. */
    covariance: z.array(number).length(TOGETHER_COUNT ** 2, '16 x 16 numbers'),
  }),
  parameters: z
    .array(
      z.strictObject({
        name: text,
        unit: z.enum(['deg', 'm', 'ms']),
        nominal: number,
        estimate: number,
        sigma: number.min(0),
        priorSigma: number.min(0).nullable(),
        held: z.boolean(),
        verdict: z.enum(['determined', 'partly determined', 'not determined', 'held']),
        mostCorrelatedWith: text,
        correlation: number,
        limits: z.array(z.strictObject({ by: text, share: number })),
        advice: z.array(text),
      }),
    )
    .length(MOUNTING_COUNT),
  check: z
    .strictObject({
      leftOut: z.enum(['passes', 'lights']),
      improves: z.boolean(),
      parts: z.array(
        z.strictObject({ leftOut: text, rays: z.int(), nominalRms: number.min(0), estimatedRms: number.min(0) }),
      ),
    })
    .nullable(),
  accepted: z.boolean(),
  statistics: z.strictObject({
    passes: z.int(),
    lights: z.int(),
    surveyedLights: z.int(),
    views: z.int(),
    rays: z.int(),
    normalisedRms: number.min(0),
    widenedBy: number.min(1),
    leftOut: z.array(z.strictObject({ because: text, sightings: z.int() })),
  }),
  provenance: z.strictObject({
    software: text,
    flight: text,
    flightHash: text,
    rigHash: text,
    registrationHash: text,
    surveyedHash: text.nullable(),
  }),
});
export type MountingDocument = z.infer<typeof mountingDocument>;

/** The text of a mounting file: the same document gives the same bytes. */
export const serialiseMounting = (document: MountingDocument): string => `${JSON.stringify(document, null, 1)}\n`;

export interface ReadMounting {
  /** Whatever registration it is used with. */
  readonly mounting: Mounting;
  /** With the registration of this hash: better, as the flight knows the sum of turn and principal point. */
  readonly withRegistration: { readonly hash: string; readonly mounting: Mounting };
  readonly document: MountingDocument;
  readonly hash: string;
}

/**
 * Reads a mounting file.
 * @param content whole content of the file
 * @param file    its name, for messages
 * @throws InputError for text that is not JSON, for the first field that is missing or wrong, for a rotation that is
 *   none, and for a covariance that is none
 */
export function parseMounting(content: string, file: string): ReadMounting {
  let value: unknown;
  try {
    value = JSON.parse(content);
  } catch (error) {
    throw new InputError({
      file,
      found: `text that is not JSON (${(error as Error).message})`,
      expected: 'a mounting file',
      todo: 'Make it anew with `corposant mounting`.',
    });
  }
  const document = parseWith(mountingDocument, value, file);
  const together = document.withRegistration;
  return {
    mounting: mountingOf(document, file, ''),
    withRegistration: { hash: together.hash, mounting: mountingOf(together, file, 'withRegistration.') },
    document,
    hash: createHash('sha256').update(content).digest('hex'),
  };
}

function mountingOf(
  { bodyFromUv, timeOffsetNs, covariance }: Pick<MountingDocument, 'bodyFromUv' | 'timeOffsetNs' | 'covariance'>,
  file: string,
  path: string,
): Mounting {
  const rotation = bodyFromUv.rotation as unknown as Mat3;
  checkRotation(rotation, file, `${path}bodyFromUv.rotation`);
  checkCovariance(covariance, file, `${path}covariance`);
  const n = Math.sqrt(covariance.length);
  const block = (from: number): Mat3 =>
    [0, 1, 2].flatMap((i) => [0, 1, 2].map((j) => covariance[(from + i) * n + from + j])) as unknown as Mat3;
  return {
    bodyFromUv: { rotation, translation: bodyFromUv.translation },
    boresightCovarianceRad2: block(0),
    leverArmCovarianceM2: block(3),
    timeOffsetNs,
    timeOffsetSigmaNs: Math.sqrt(covariance[6 * n + 6]) * 1e9,
    jointCovariance: Float64Array.from(covariance),
  };
}

function checkRotation(r: Mat3, file: string, field: string): void {
  for (let i = 0; i < 3; i++)
    for (let j = 0; j < 3; j++) {
      const product = r[3 * i] * r[3 * j] + r[3 * i + 1] * r[3 * j + 1] + r[3 * i + 2] * r[3 * j + 2];
      if (Math.abs(product - (i === j ? 1 : 0)) <= 1e-9) continue;
      throw new InputError({
        file,
        field,
        found: `rows ${i} and ${j} with the product ${product}`,
        expected: 'an orthonormal matrix, row by row',
        todo: 'Do not edit or round the file; make it anew with `corposant mounting`.',
      });
    }
}

function checkCovariance(c: readonly number[], file: string, field: string): void {
  const n = Math.sqrt(c.length);
  for (let i = 0; i < n; i++)
    for (let j = 0; j <= i; j++) {
      const size = Math.sqrt(Math.abs(c[i * n + i] * c[j * n + j]));
      const symmetric = Math.abs(c[i * n + j] - c[j * n + i]) <= 1e-9 * size;
      if (symmetric && c[i * n + i] >= 0 && Math.abs(c[i * n + j]) <= size * (1 + 1e-9)) continue;
      throw new InputError({
        file,
        field: `${field} (${i}, ${j})`,
        found: `${c[i * n + j]} and ${c[j * n + i]}`,
        expected: 'a symmetric matrix with variances from 0 up on its diagonal and correlations between -1 and 1',
        todo: 'Do not edit the file; make it anew with `corposant mounting`.',
      });
    }
}
