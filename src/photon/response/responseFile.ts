import { z } from 'zod';
import { parseWith } from '../../input/parseWith.ts';
import type { CameraResponse } from './CameraResponse.ts';

const finite = z.number();
const positive = z.number().positive();

/** `response.json`: what a gain series or a flight told of the ultraviolet camera. Fields: docs/formats.md. */
export const responseDocument = z.strictObject({
  format: z.literal('corposant-response'),
  version: z.literal(1),
  rigId: z.string().min(1),
  rigHash: z.string().min(1),
  source: z.strictObject({
    kind: z.enum(['series', 'flight']),
    name: z.string(),
    contentHash: z.string(),
  }),
  software: z.string(),
  gainCurve: z.array(z.strictObject({ gain: finite, meanChargeDn: positive, sigmaDn: positive })).min(1),
  charges: z.array(
    z.strictObject({
      gain: finite,
      spread: positive,
      spreadSigma: positive,
      shareBelowCut: finite.min(0).max(1),
      events: z.int().min(0),
      goodness: finite.min(0).max(1),
    }),
  ),
  eventRates: z.array(
    z.strictObject({
      gain: finite,
      exposureS: positive,
      light: z.enum(['none', 'even', 'as it came']),
      frames: z.int(),
      events: z.int(),
      perS: finite,
      lowerPerS: finite,
      upperPerS: finite,
    }),
  ),
  flatField: z
    .strictObject({ coefficients: z.array(finite).length(5), covariance: z.array(finite).length(25) })
    .nullable(),
});
export type ResponseDocument = z.infer<typeof responseDocument>;

/** @throws InputError naming the field that is not as docs/formats.md has it */
export const parseResponse = (json: unknown, file: string): ResponseDocument => parseWith(responseDocument, json, file);

/** The part of a measurement that others build on; null where not even one gain has a charge. */
export function responseDocumentOf(
  response: CameraResponse,
  about: Pick<ResponseDocument, 'rigId' | 'rigHash' | 'source' | 'software'>,
): ResponseDocument | null {
  if (response.gainCurve.length === 0) return null;
  const flat = response.flatField?.kind === 'measured' ? response.flatField.flatField : null;
  return {
    format: 'corposant-response',
    version: 1,
    ...about,
    gainCurve: [...response.gainCurve],
    charges: response.gains.flatMap(({ gain, law }) =>
      law.kind === 'fitted'
        ? [
            {
              gain,
              spread: law.spread,
              spreadSigma: law.spreadSigma,
              shareBelowCut: law.shareBelowCut,
              events: law.count,
              goodness: law.goodness,
            },
          ]
        : [],
    ),
    eventRates: response.rates.map(({ countedShare: _, ...rate }) => rate),
    flatField: flat && { coefficients: [...flat.coefficients], covariance: [...flat.covariance] },
  };
}
