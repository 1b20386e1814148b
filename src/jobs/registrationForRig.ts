import { readFile } from 'node:fs/promises';
import { InputError } from '../input/InputError.ts';
import { readJsonFile } from '../recording/jsonFile.ts';
import type { RigDescription } from '../recording/RigDescription.ts';
import { nominalRegistration } from '../rig/nominalRegistration.ts';
import type { Registration } from '../rig/Registration.ts';
import { parseRegistration } from '../rig/registrationFile.ts';

/**
 * The registration of a rig: from its file, or where there is none from the rig's nominal values.
 * @throws InputError for a file that is damaged, of another rig, or of cameras of another size
 */
export async function registrationForRig(file: string | null, rig: RigDescription): Promise<Registration> {
  if (file === null) return nominalRegistration(rig);
  // Read once as JSON, so that a missing or damaged file is told in the same words as any other.
  await readJsonFile(file);
  const { registration, document } = parseRegistration(await readFile(file, 'utf8'), file);
  const refuse = (field: string, found: string, expected: string): never => {
    throw new InputError({ file, field, found, expected, todo: 'Give the registration of that rig.' });
  };
  if (document.rigId !== rig.id) refuse('rigId', `'${document.rigId}'`, `'${rig.id}', the rig given`);
  for (const camera of ['uv', 'colour'] as const) {
    const lens = registration.model[camera];
    const { widthPx, heightPx } = rig.cameras[camera];
    if (lens.widthPx !== widthPx || lens.heightPx !== heightPx)
      refuse(
        `${camera} lens`,
        `${lens.widthPx} x ${lens.heightPx} px`,
        `${widthPx} x ${heightPx} px, as rig '${rig.id}' has it`,
      );
  }
  return registration;
}
