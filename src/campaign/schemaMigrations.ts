import type { Database } from 'better-sqlite3';
import { InputError } from '../input/InputError.ts';
import { CAMPAIGN_TABLES } from './campaignTables.ts';
import { createGeoPackage, createTable, GEOPACKAGE_APPLICATION_ID, type TableDefinition } from './geopackageTables.ts';
import { createLayerStyles } from './layerStyles.ts';

/** Time of change of tables in which nothing was stored yet; never the clock, so that equal contents are equal files. */
export const BEFORE_ALL_FLIGHTS_UTC = '1970-01-01T00:00:00.000Z';

interface Migration {
  readonly what: string;
  apply(db: Database): void;
}

/** From each schema version to the next: the first entry makes version 1. Never edit an entry that was released; add one. */
const MIGRATIONS: readonly Migration[] = [
  {
    what: 'tables of a campaign',
    apply(db) {
      createGeoPackage(db);
      createTable(db, MIGRATION_TABLE, BEFORE_ALL_FLIGHTS_UTC);
      for (const table of CAMPAIGN_TABLES) createTable(db, table, BEFORE_ALL_FLIGHTS_UTC);
      db.exec(`
        CREATE INDEX evidence_of_finding ON evidence(finding);
        CREATE UNIQUE INDEX coverage_of_component ON coverage(component, flight);
        CREATE INDEX review_of_finding ON review_log(finding);
        CREATE TRIGGER review_log_keeps_rows BEFORE DELETE ON review_log
          BEGIN SELECT RAISE(ABORT, 'the review log only grows'); END;
        CREATE TRIGGER review_log_keeps_words BEFORE UPDATE ON review_log
          BEGIN SELECT RAISE(ABORT, 'the review log only grows'); END;
      `);
    },
  },
  {
    what: 'how each component was looked at',
    apply: completeTables,
  },
  {
    what: 'review: reasons, acts of several findings, merged and split findings',
    apply: completeTables,
  },
  {
    what: 'rays and settings of inspections, comparison with an earlier campaign',
    apply(db) {
      completeTables(db);
      db.exec(`
        CREATE INDEX IF NOT EXISTS rays_of_sighting ON rays(sighting);
        CREATE INDEX IF NOT EXISTS change_of_finding ON changes(finding);
      `);
    },
  },
  {
    what: 'flights placed together',
    apply: completeTables,
  },
  {
    what: 'styles of the map layers',
    apply: (db) => createLayerStyles(db, BEFORE_ALL_FLIGHTS_UTC),
  },
  {
    what: 'places with the mounting as stated',
    apply: completeTables,
  },
  {
    what: 'the sightings of a discharge by index',
    apply: (db) => db.exec('CREATE INDEX IF NOT EXISTS sightings_of_discharge ON sightings(discharge)'),
  },
];

/**
 * Adds the tables and columns that a file of an earlier version lacks; a new file has them all from the start. Columns that
 * come later allow NULL, which then says "an earlier release did not record this", or have a value for the rows that are there.
 */
function completeTables(db: Database): void {
  for (const table of CAMPAIGN_TABLES) {
    const has = db.prepare('SELECT name FROM pragma_table_info(?)').pluck().all(table.name) as string[];
    if (has.length === 0) createTable(db, table, BEFORE_ALL_FLIGHTS_UTC);
    else
      for (const [column, type] of Object.entries(table.columns))
        if (!has.includes(column)) db.exec(`ALTER TABLE ${table.name} ADD COLUMN ${column} ${type}`);
  }
}

const MIGRATION_TABLE: TableDefinition = {
  name: 'schema_versions',
  title: 'Schema versions',
  description: 'Versions that the tables of this campaign went through',
  geometry: null,
  columns: { version: 'INTEGER NOT NULL UNIQUE', what: 'TEXT NOT NULL' },
};

export const SCHEMA_VERSION = MIGRATIONS.length;

/** Version of the tables in the file; 0 for an empty database. @throws InputError where it is something else */
export function schemaVersionOf(db: Database, file: string): number {
  const tables = db.prepare("SELECT name FROM sqlite_schema WHERE type = 'table'").pluck().all() as string[];
  if (tables.length === 0) return 0;
  const isGeoPackage = db.pragma('application_id', { simple: true }) === GEOPACKAGE_APPLICATION_ID;
  if (isGeoPackage && tables.includes(MIGRATION_TABLE.name)) {
    const version = db.prepare('SELECT max(version) FROM schema_versions').pluck().get() as number;
    if (version <= SCHEMA_VERSION) return version;
    throw new InputError({
      file,
      field: 'schema_versions',
      found: `version ${version}`,
      expected: `at most ${SCHEMA_VERSION}, which this release knows`,
      todo: 'Open the campaign with the release that wrote it, or a later one.',
    });
  }
  throw new InputError({
    file,
    found: isGeoPackage ? 'a GeoPackage without a campaign in it' : 'a database of another kind',
    expected: 'a campaign',
    todo: 'Name the file of a campaign, or one that does not exist yet.',
  });
}

/** Brings the tables to the newest version, in one transaction: all of it or nothing. */
export function migrate(db: Database, file: string): void {
  if (schemaVersionOf(db, file) === SCHEMA_VERSION) return;
  db.transaction(() => {
    // Asked again under the lock: another process may have been quicker.
    for (let version = schemaVersionOf(db, file); version < SCHEMA_VERSION; version++) {
      const { what, apply } = MIGRATIONS[version];
      apply(db);
      db.prepare('INSERT INTO schema_versions (version, what) VALUES (?, ?)').run(version + 1, what);
    }
  }).immediate();
}
