import { readFile } from 'node:fs/promises';
import { z } from 'zod';
import { InputError } from '../../input/InputError.ts';
import { parseWith } from '../../input/parseWith.ts';

const llh = z.tuple([z.number(), z.number(), z.number()]);
const lens = z.looseObject({ fxPx: z.number(), fyPx: z.number(), cxPx: z.number(), cyPx: z.number() });

/** `truth.json` of an invented flight, as far as scoring needs it. Only this job may read it. */
const truthFile = z.looseObject({
  format: z.literal('corposant-truth'),
  version: z.literal(1),
  sources: z.array(
    z.looseObject({
      id: z.string(),
      kind: z.enum(['discharge', 'trap']),
      trap: z.string().nullish(),
      positionLlh: llh.nullish(),
      componentId: z.string().nullish(),
      photonRateHz: z.number().nullish(),
      eventsExpected: z.number(),
      framesInView: z.number(),
      passes: z
        .array(z.looseObject({ fromNs: z.number(), toNs: z.number(), framesInView: z.number(), events: z.number() }))
        .nullish(),
    }),
  ),
  /** Of a second year only: what became of each discharge. */
  changes: z
    .array(
      z.looseObject({
        id: z.string(),
        positionLlh: llh,
        componentId: z.string(),
        change: z.enum(['unchanged', 'grown', 'faded', 'gone', 'new', 'not flown']),
        factor: z.number().nullable(),
      }),
    )
    .optional(),
  rig: z.looseObject({ uv: lens, colour: lens }),
});
export type Truth = z.infer<typeof truthFile>;

export async function readTruth(file: string): Promise<Truth> {
  let text: string;
  try {
    text = await readFile(file, 'utf8');
  } catch {
    throw new InputError({
      file,
      found: 'no readable file',
      expected: 'truth.json of an invented flight',
      todo: 'Give the truth.json that `corposant invent` wrote beside the flight.',
    });
  }
  let value: unknown;
  try {
    value = JSON.parse(text);
  } catch (error) {
    throw new InputError({ file, found: (error as Error).message, expected: 'JSON', todo: 'Render the world again.' });
  }
  return parseWith(truthFile, value, file);
}
