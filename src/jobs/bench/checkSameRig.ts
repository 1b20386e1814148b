import { join } from 'node:path';
import { InputError } from '../../input/InputError.ts';
import type { BenchDescription } from '../../recording/BenchDescription.ts';
import type { RigDescription } from '../../recording/RigDescription.ts';

/** @throws InputError where a run was recorded with another rig than the one given, or with images of another size */
export function checkSameRig(description: BenchDescription, rig: RigDescription, folder: string): void {
  const file = join(folder, 'bench.json');
  if (description.rigId !== rig.id)
    throw new InputError({
      file,
      field: 'rigId',
      found: description.rigId,
      expected: `${rig.id}, the rig of the rig file`,
      todo: 'Give the rig file of the rig that made this run.',
    });
  for (const stream of ['uv', 'colour'] as const) {
    const { widthPx, heightPx } = description.streams[stream];
    const camera = rig.cameras[stream];
    if (widthPx !== camera.widthPx || heightPx !== camera.heightPx)
      throw new InputError({
        file,
        field: `streams.${stream}`,
        found: `${widthPx} x ${heightPx} pixels`,
        expected: `${camera.widthPx} x ${camera.heightPx}, as the rig file says`,
        todo: 'Give the rig file of the rig that made this run.',
      });
  }
}
