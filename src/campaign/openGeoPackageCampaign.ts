import { existsSync } from 'node:fs';
import Sqlite from 'better-sqlite3';
import { InputError } from '../input/InputError.ts';
import { GeoPackageCampaign } from './GeoPackageCampaign.ts';
import { defineGeometryFunctions } from './geopackageTables.ts';
import type { ReviewableCampaign } from './ReviewableCampaign.ts';
import { migrate, schemaVersionOf } from './schemaMigrations.ts';

/** How long a call waits for another process to finish its transaction. */
const PATIENCE_MS = 10_000;

/**
 * Opens the embedded store: one GeoPackage 1.3 file that any GIS reads as it is. Several processes may have it open;
 * each writing call is one transaction, and a crash inside one leaves the file as it was before it.
 * @param create whether to make the file where there is none
 * @throws InputError where the file is missing, is no campaign, or was written by a later release
 */
export function openGeoPackageCampaign(file: string, { create }: { create: boolean }): ReviewableCampaign {
  if (!create && !existsSync(file)) {
    throw new InputError({
      file,
      found: 'no such file',
      expected: 'a campaign',
      todo: 'Inspect a flight into it first, or check the path.',
    });
  }
  const db = openDatabase(file, create);
  try {
    // The journal mode is left as found: the default keeps everything in the one file, and a GIS that has the file open
    // may have changed it for a while. EXTRA also flushes the folder after the journal is removed.
    db.pragma('synchronous = EXTRA');
    db.pragma('foreign_keys = ON');
    // The triggers of the spatial indices call our functions.
    db.pragma('trusted_schema = ON');
    defineGeometryFunctions(db);
    if (schemaVersionOf(db, file) === 0 && !create) {
      throw new InputError({ file, found: 'an empty file', expected: 'a campaign', todo: 'Check the path.' });
    }
    migrate(db, file);
    return new GeoPackageCampaign(db, file);
  } catch (error) {
    db.close();
    throw asInputError(error, file);
  }
}

function openDatabase(file: string, create: boolean): Sqlite.Database {
  try {
    return new Sqlite(file, { fileMustExist: !create, timeout: PATIENCE_MS });
  } catch (error) {
    throw asInputError(error, file);
  }
}

function asInputError(error: unknown, file: string): unknown {
  const code = (error as { code?: string }).code ?? '';
  if (code === 'SQLITE_NOTADB' || code.startsWith('SQLITE_CORRUPT')) {
    return new InputError({
      file,
      found: code === 'SQLITE_NOTADB' ? 'a file that is no database' : 'a damaged database',
      expected: 'a campaign',
      todo: 'Restore the file from a copy, or inspect the flights into a new one.',
    });
  }
  if (
    code.startsWith('SQLITE_CANTOPEN') ||
    (error as Error).message === 'Cannot open database because the directory does not exist'
  ) {
    return new InputError({
      file,
      found: 'a path that cannot be opened',
      expected: 'a file in a folder that exists and can be written',
      todo: 'Create the folder, or check the permissions.',
    });
  }
  return error;
}
