import { readFile } from 'node:fs/promises';
import { InputError } from '../input/InputError.ts';
import { readJsonFile } from '../recording/jsonFile.ts';
import type { RigDescription } from '../recording/RigDescription.ts';
import type { Mounting } from '../rig/Mounting.ts';
import { parseMounting } from '../rig/mountingFile.ts';
import type { Registration } from '../rig/Registration.ts';

/** Reads a mounting and checks that it is of this rig. With the registration it was measured with, it is known better. */
export async function mountingForRig(
  file: string,
  rig: RigDescription,
  registration: Registration,
): Promise<{ readonly mounting: Mounting; readonly hash: string }> {
  // Read once as JSON, so that a missing or damaged file is told in the same words as any other.
  await readJsonFile(file);
  const { mounting, withRegistration, document, hash } = parseMounting(await readFile(file, 'utf8'), file);
  if (document.rigId !== rig.id)
    throw new InputError({
      file,
      field: 'rigId',
      found: `'${document.rigId}'`,
      expected: `'${rig.id}', the rig that flew`,
      todo: 'Give the mounting of that rig.',
    });
  return { mounting: withRegistration.hash === registration.hash ? withRegistration.mounting : mounting, hash };
}
