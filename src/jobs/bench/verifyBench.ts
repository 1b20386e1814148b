import { createHash } from 'node:crypto';
import { readFile } from 'node:fs/promises';
import { InputError } from '../../input/InputError.ts';
import { openBench } from '../../recording/openBench.ts';
import { readRig } from '../../recording/readRig.ts';
import { joinStreams } from '../../rig/calibrateStreams.ts';
import type { Registration } from '../../rig/Registration.ts';
import { readOpenCvYaml, registrationFromOpenCv } from '../../rig/readOpenCvYaml.ts';
import { parseRegistration } from '../../rig/registrationFile.ts';
import { type VerificationOutcome, verifyRegistration } from '../../rig/verifyRegistration.ts';
import { checkSameRig } from './checkSameRig.ts';
import { type BenchProgress, observeBench } from './observeBench.ts';

/**
 * Holds a registration against a new run: the finders run, the streams are brought together in time,
 * nothing is fitted to the mapping, nothing is written. A file
 * `*.yml` is read as lenses and relative pose in OpenCV's YAML, so that a calibration made elsewhere is judged alike.
 * @throws InputError for input that cannot be read, and for a registration or a run of another rig
 */
export async function verifyBench(
  folder: string,
  rigFile: string,
  registrationFile: string,
  options: { readonly tolerancePx: number; readonly onProgress?: (progress: BenchProgress) => void },
): Promise<VerificationOutcome> {
  const { rig } = await readRig(rigFile);
  const registration = /\.ya?ml$/i.test(registrationFile)
    ? await readOpenCvRegistration(registrationFile)
    : await readRegistrationOf(rig.id, registrationFile);
  const bench = await openBench(folder);
  checkSameRig(bench.description, rig, folder);
  const { streams, leftOut } = await observeBench(bench, rig, options.onProgress ?? (() => undefined));
  const joined = joinStreams(rig, streams);
  const outcome = verifyRegistration(rig, joined.run, registration, options.tolerancePx, joined.fit);
  return { ...outcome, leftOut: [...leftOut, ...joined.leftOut, ...outcome.leftOut] };
}

async function readOpenCvRegistration(file: string): Promise<Registration> {
  const text = await textOf(file, 'the YAML of both lenses and their relative pose');
  return registrationFromOpenCv(readOpenCvYaml(text, file), createHash('sha256').update(text).digest('hex'));
}

async function textOf(file: string, expected: string): Promise<string> {
  try {
    return await readFile(file, 'utf8');
  } catch (error) {
    throw new InputError({
      file,
      found: `no file that can be read (${(error as NodeJS.ErrnoException).code ?? 'unknown'})`,
      expected,
      todo: 'Give the registration.json that `corposant bench` wrote, or the YAML of a stereo calibration.',
    });
  }
}

/** A registration file that has to belong to the given rig. */
export async function readRegistrationOf(rigId: string, file: string): Promise<Registration> {
  const text = await textOf(file, 'a registration file');
  const { registration, document } = parseRegistration(text, file);
  if (document.rigId !== rigId)
    throw new InputError({
      file,
      field: 'rigId',
      found: document.rigId,
      expected: `${rigId}, the rig of the rig file`,
      todo: 'Give a registration of this rig.',
    });
  return registration;
}
