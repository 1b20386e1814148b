import { InputError } from '../input/InputError.ts';
import type { BenchDescription } from './BenchDescription.ts';
import type { FlightDescription } from './FlightDescription.ts';
import type { RigDescription } from './RigDescription.ts';

/**
 * @param file where the description stands, for the error
 * @throws InputError where a recording was not made with this rig: another id, image size or bit depth
 */
export function checkRigFits(
  rig: RigDescription,
  description: FlightDescription | BenchDescription,
  file: string = description.format === 'corposant-flight' ? 'flight.json' : 'bench.json',
): void {
  const refuse = (field: string, found: string | number, expected: string): never => {
    throw new InputError({
      file,
      field,
      found: String(found),
      expected,
      todo: 'Use the rig file of the cameras that made this recording.',
    });
  };
  if (description.rigId !== rig.id) refuse('rigId', description.rigId, `${rig.id}, the rig given`);
  for (const kind of ['uv', 'colour'] as const) {
    for (const field of ['widthPx', 'heightPx', 'bitDepth'] as const) {
      const found = description.streams[kind][field];
      const expected = rig.cameras[kind][field];
      if (found !== expected)
        refuse(`streams.${kind}.${field}`, found, `${expected}, as camera ${kind} of rig ${rig.id}`);
    }
  }
}
