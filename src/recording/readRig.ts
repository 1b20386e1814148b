import { InputError } from '../input/InputError.ts';
import { parseWith } from '../input/parseWith.ts';
import { readJsonFile } from './jsonFile.ts';
import { type RigDescription, rigDescription } from './RigDescription.ts';

/**
 * Reads `rig.json`; `hash` is the SHA-256 of its bytes.
 * @throws InputError for the first fault found
 */
export async function readRig(file: string): Promise<{ readonly rig: RigDescription; readonly hash: string }> {
  const { value, hash } = await readJsonFile(file);
  const rig = parseWith(rigDescription, value, file);
  const { gainCurve, bandNm, saturationLevel, bitDepth } = rig.cameras.uv;
  const refuse = (field: string, found: string, expected: string): never => {
    throw new InputError({
      file,
      field: `cameras.uv.${field}`,
      found,
      expected,
      todo: "Correct the field from the camera's data sheet.",
    });
  };
  gainCurve.forEach(({ gain }, i) => {
    if (i > 0 && gain <= gainCurve[i - 1].gain) {
      refuse(`gainCurve.${i}.gain`, `${gain} after ${gainCurve[i - 1].gain}`, 'gain settings strictly rising');
    }
  });
  if (bandNm[0] >= bandNm[1]) refuse('bandNm', `${bandNm[0]} to ${bandNm[1]}`, '[from, to] with from below to');
  const most = 2 ** bitDepth - 1;
  if (saturationLevel > most) refuse('saturationLevel', String(saturationLevel), `at most ${most} at ${bitDepth} bit`);
  return { rig, hash };
}
