import { z } from 'zod';
import type { RigCalibration } from '../../rig/calibrateRig.ts';
import { colourPxFromUv } from '../../rig/colourFromUv.ts';
import type { TwoCameraModel } from '../../rig/Registration.ts';

const numbers = z.array(z.number());
const known = z.array(z.number().nullable());

/** Its name, beside the registration. */
export const RESIDUALS_FILE = 'residuals.json';

/** `residuals.json`: every correspondence of a bench run, column by column, with what was left over. Fields: docs/formats.md. */
export const residualsDocument = z.strictObject({
  format: z.literal('corposant-residuals'),
  version: z.literal(1),
  count: z.int(),
  tNs: numbers,
  sweep: z.array(z.string()),
  mark: z.array(z.string()),
  uPx: numbers,
  vPx: numbers,
  rangeM: numbers,
  duPx: known,
  dvPx: known,
  asBuiltDuPx: known,
  asBuiltDvPx: known,
});
export type ResidualsDocument = z.infer<typeof residualsDocument>;

/** @param nominal the pair as built, whose residuals stand beside the held-out ones of the chosen model */
export function residualsOf(
  { correspondences, ladder }: RigCalibration,
  nominal: TwoCameraModel,
  names: { readonly sweeps: readonly string[]; readonly marks: readonly string[] },
): ResidualsDocument {
  const asBuilt = correspondences.map((one) => {
    const at = colourPxFromUv(nominal, one.uv[0], one.uv[1], one.inverseRangePerM);
    return at === null ? null : [one.colour[0] - at[0], one.colour[1] - at[1]];
  });
  const heldOut = (i: number): number | null => {
    const px = ladder.heldOutPx[i];
    return Number.isNaN(px) ? null : round(px, 1e4);
  };
  return {
    format: 'corposant-residuals',
    version: 1,
    count: correspondences.length,
    tNs: correspondences.map(({ frame }) => frame.tNs),
    sweep: correspondences.map(({ frame }) => names.sweeps[frame.sweep] ?? ''),
    mark: correspondences.map(({ mark }) => names.marks[mark] ?? ''),
    uPx: correspondences.map(({ uv }) => round(uv[0], 1e3)),
    vPx: correspondences.map(({ uv }) => round(uv[1], 1e3)),
    rangeM: correspondences.map(({ inverseRangePerM }) => round(1 / inverseRangePerM, 1e3)),
    duPx: correspondences.map((_, i) => heldOut(2 * i)),
    dvPx: correspondences.map((_, i) => heldOut(2 * i + 1)),
    asBuiltDuPx: asBuilt.map((px) => px && round(px[0], 1e3)),
    asBuiltDvPx: asBuilt.map((px) => px && round(px[1], 1e3)),
  };
}

const round = (value: number, per: number): number => Math.round(value * per) / per;
