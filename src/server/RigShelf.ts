import { readFile } from 'node:fs/promises';
import { InputError } from '../input/InputError.ts';
import type { RigDescription } from '../recording/RigDescription.ts';
import { readRig } from '../recording/readRig.ts';
import { buildLookUpTable, type LookUpTable } from '../rig/lookUpTable.ts';
import type { Mounting } from '../rig/Mounting.ts';
import { parseMounting } from '../rig/mountingFile.ts';
import { mountingFromRig } from '../rig/mountingFromRig.ts';
import { nominalRegistration } from '../rig/nominalRegistration.ts';
import type { Registration } from '../rig/Registration.ts';
import { parseRegistration, type RegistrationDocument } from '../rig/registrationFile.ts';
import type { DeskOptions } from './DeskOptions.ts';
import { notFound } from './problemOf.ts';

export interface KnownRegistration {
  readonly which: 'current' | 'previous' | 'nominal';
  readonly file: string | null;
  readonly registration: Registration;
  /** null where it is made from nominal values. */
  readonly document: RegistrationDocument | null;
}

/** The rig, its registrations and its mounting, as far as the server was given them. */
export class RigShelf {
  readonly rig: RigDescription | null;
  /** How the uv camera sits, with the registration in use. */
  readonly mounting: Mounting | null;
  readonly registrations: readonly KnownRegistration[];
  private readonly tables = new Map<string, LookUpTable>();

  private constructor(
    rig: RigDescription | null,
    mounting: Mounting | null,
    registrations: readonly KnownRegistration[],
  ) {
    this.rig = rig;
    this.mounting = mounting;
    this.registrations = registrations;
  }

  /** @throws InputError for files that are missing, damaged, or of another rig */
  static async of(options: DeskOptions): Promise<RigShelf> {
    const rig = options.rigFile === null ? null : (await readRig(options.rigFile)).rig;
    const registrations: KnownRegistration[] = [];
    for (const [which, file] of [
      ['current', options.registrationFile],
      ['previous', options.previousRegistrationFile],
    ] as const) {
      if (file === null) continue;
      const { registration, document } = parseRegistration(await readText(file), file);
      if (rig !== null) mustBeOf(rig, document.rigId, file);
      registrations.push({ which, file, registration, document });
    }
    if (rig !== null)
      registrations.push({ which: 'nominal', file: null, registration: nominalRegistration(rig), document: null });
    let mounting = rig === null ? null : mountingFromRig(rig);
    if (options.mountingFile !== null && rig !== null) {
      const measured = parseMounting(await readText(options.mountingFile), options.mountingFile);
      mustBeOf(rig, measured.document.rigId, options.mountingFile);
      const together = registrations.some(({ registration }) => registration.hash === measured.withRegistration.hash);
      mounting = together ? measured.withRegistration.mounting : measured.mounting;
    }
    return new RigShelf(rig, mounting, registrations);
  }

  /** @throws HttpProblem 404 */
  needMounting(): Mounting {
    if (this.mounting === null)
      throw notFound('The server was not given the rig that flew.', 'Start the desk with --rig and rig.json.');
    return this.mounting;
  }

  /** @throws HttpProblem 404 */
  byHash(hash: string): KnownRegistration {
    const found = this.registrations.find(({ registration }) => registration.hash === hash);
    if (found === undefined)
      throw notFound(
        `The server was not given the registration ${hash.slice(0, 12)}.`,
        'Start the desk with --registration and the file the flight was inspected with.',
      );
    return found;
  }

  /** The mapping as a table for processors that interpolate; made once. */
  tableOf({ registration }: KnownRegistration): LookUpTable {
    let table = this.tables.get(registration.hash);
    if (table === undefined) {
      table = buildLookUpTable(
        registration.model,
        'colour from uv',
        Math.min(NEAREST_M, registration.support.nearestM || NEAREST_M),
      );
      this.tables.set(registration.hash, table);
    }
    return table;
  }
}

/** Nearer than this no aircraft comes to a line. */
const NEAREST_M = 10;

async function readText(file: string): Promise<string> {
  try {
    return await readFile(file, 'utf8');
  } catch (error) {
    throw new InputError({
      file,
      found: `a file that cannot be read (${(error as { code?: string }).code ?? 'unknown'})`,
      expected: 'a file',
      todo: 'Check the path.',
    });
  }
}

function mustBeOf(rig: RigDescription, rigId: string, file: string): void {
  if (rigId === rig.id) return;
  throw new InputError({
    file,
    field: 'rigId',
    found: `'${rigId}'`,
    expected: `'${rig.id}', the rig given`,
    todo: 'Give the file of that rig.',
  });
}
