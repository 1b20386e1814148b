import { InputError } from '../../input/InputError.ts';
import type { FlatField } from '../../photon/response/flatField.ts';
import { parseResponse } from '../../photon/response/responseFile.ts';
import { readJsonFile } from '../../recording/jsonFile.ts';
import type { RigDescription } from '../../recording/RigDescription.ts';

/** The rig with the gain curve that was measured in place of the one that it states, and the response to even light beside it. */
export async function rigAsMeasured(
  rig: RigDescription,
  file: string,
): Promise<{ readonly rig: RigDescription; readonly flatField: FlatField | null; readonly hash: string }> {
  const { value, hash } = await readJsonFile(file);
  const response = parseResponse(value, file);
  if (response.rigId !== rig.id)
    throw new InputError({
      file,
      field: 'rigId',
      found: `'${response.rigId}'`,
      expected: `'${rig.id}', the rig that flew`,
      todo: 'Give the response of that rig.',
    });
  const gainCurve = response.gainCurve.map(({ gain, meanChargeDn }) => ({ gain, meanChargeDn }));
  const flatField = response.flatField as FlatField | null;
  return { rig: { ...rig, cameras: { ...rig.cameras, uv: { ...rig.cameras.uv, gainCurve } } }, flatField, hash };
}
