import { stat } from 'node:fs/promises';
import { join } from 'node:path';
import { InputError } from '../input/InputError.ts';
import { readJsonFile } from '../recording/jsonFile.ts';
import { type OpenRecording, openRecording } from './OpenRecording.ts';
import { notFound } from './problemOf.ts';

/** Recordings the server was given, by the names they carry. They are opened when first asked for, and stay open. */
export class RecordingShelf {
  private readonly pathBy: ReadonlyMap<string, string>;
  private readonly opened = new Map<string, Promise<OpenRecording>>();

  private constructor(pathBy: ReadonlyMap<string, string>) {
    this.pathBy = pathBy;
  }

  /** @throws InputError where a path holds no recording, or two carry one name */
  static async of(paths: readonly string[], descriptionFile: 'flight.json' | 'bench.json'): Promise<RecordingShelf> {
    const pathBy = new Map<string, string>();
    for (const path of paths) {
      const name = await nameOf(path, descriptionFile);
      const before = pathBy.get(name);
      if (before !== undefined)
        throw new InputError({
          file: path,
          field: 'name',
          found: `'${name}', the name of ${before} too`,
          expected: 'recordings with names of their own',
          todo: 'Give one of them, or rename one.',
        });
      pathBy.set(name, path);
    }
    return new RecordingShelf(pathBy);
  }

  get names(): string[] {
    return [...this.pathBy.keys()];
  }

  has(name: string): boolean {
    return this.pathBy.has(name);
  }

  /** @throws HttpProblem 404 */
  pathOf(name: string): string {
    const path = this.pathBy.get(name);
    if (path === undefined)
      throw notFound(`The server was not given the recording '${name}'.`, 'Start the desk with --flight and its path.');
    return path;
  }

  flight(name: string): Promise<OpenRecording> {
    const path = this.pathOf(name);
    let opening = this.opened.get(name);
    if (opening === undefined) {
      opening = openRecording(path);
      // A recording that could not be opened is tried again: it may still be copied.
      opening.catch(() => this.opened.delete(name));
      this.opened.set(name, opening);
    }
    return opening;
  }

  async close(): Promise<void> {
    for (const opening of this.opened.values()) await opening.then((flight) => flight.close()).catch(() => undefined);
    this.opened.clear();
  }
}

async function nameOf(path: string, descriptionFile: string): Promise<string> {
  const isFolder = await stat(path).then(
    (found) => found.isDirectory(),
    () => {
      throw new InputError({
        file: path,
        found: 'no such file or folder',
        expected: 'a recording',
        todo: 'Check the path.',
      });
    },
  );
  if (!isFolder) {
    const flight = await openRecording(path);
    await flight.close();
    return flight.description.name;
  }
  const file = join(path, descriptionFile);
  const { value } = await readJsonFile(file);
  const { name } = value as { name?: unknown };
  if (typeof name === 'string' && name !== '') return name;
  throw new InputError({
    file,
    field: 'name',
    found: JSON.stringify(name) ?? 'nothing',
    expected: 'the name of the recording',
    todo: 'Correct the field; docs/formats.md describes the file.',
  });
}
