import type { Database } from 'better-sqlite3';
import { boundsOf, SRS_ID } from './geopackageGeometry.ts';
import { createSpatialIndex } from './spatialIndex.ts';
import { SPATIAL_REFERENCE_SYSTEMS } from './spatialReferenceSystems.ts';

/** "GPKG", as application_id. */
export const GEOPACKAGE_APPLICATION_ID = 0x47504b47;
/** GeoPackage 1.3.0, as user_version. */
const GEOPACKAGE_VERSION = 10300;

/** A table of a GeoPackage: a feature layer where it has a geometry, an attributes table where it has none. */
export interface TableDefinition {
  readonly name: string;
  readonly title: string;
  readonly description: string;
  readonly geometry: 'POINT' | 'LINESTRING' | null;
  /** Name and type (with constraints) of each column after `fid` and `geom`; types are those that GeoPackage allows. */
  readonly columns: Readonly<Record<string, string>>;
}

/**
 * Makes an empty database a GeoPackage: identity and core tables. Source: OGC 12-128r17 (GeoPackage 1.3), clauses 1 and
 * 2, annex C; the WKT 2 column is its extension F.10.
 */
export function createGeoPackage(db: Database): void {
  db.pragma(`application_id = ${GEOPACKAGE_APPLICATION_ID}`);
  db.pragma(`user_version = ${GEOPACKAGE_VERSION}`);
  db.exec(`
    CREATE TABLE gpkg_spatial_ref_sys (
      srs_name TEXT NOT NULL,
      srs_id INTEGER PRIMARY KEY,
      organization TEXT NOT NULL,
      organization_coordsys_id INTEGER NOT NULL,
      definition TEXT NOT NULL,
      description TEXT,
      definition_12_063 TEXT NOT NULL
    );
    CREATE TABLE gpkg_contents (
      table_name TEXT NOT NULL PRIMARY KEY,
      data_type TEXT NOT NULL,
      identifier TEXT UNIQUE,
      description TEXT DEFAULT '',
      last_change DATETIME NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')),
      min_x DOUBLE,
      min_y DOUBLE,
      max_x DOUBLE,
      max_y DOUBLE,
      srs_id INTEGER,
      CONSTRAINT fk_gc_r_srs_id FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys(srs_id)
    );
    CREATE TABLE gpkg_geometry_columns (
      table_name TEXT NOT NULL,
      column_name TEXT NOT NULL,
      geometry_type_name TEXT NOT NULL,
      srs_id INTEGER NOT NULL,
      z TINYINT NOT NULL,
      m TINYINT NOT NULL,
      CONSTRAINT pk_geom_cols PRIMARY KEY (table_name, column_name),
      CONSTRAINT uk_gc_table_name UNIQUE (table_name),
      CONSTRAINT fk_gc_tn FOREIGN KEY (table_name) REFERENCES gpkg_contents(table_name),
      CONSTRAINT fk_gc_srs FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys(srs_id)
    );
    CREATE TABLE gpkg_extensions (
      table_name TEXT,
      column_name TEXT,
      extension_name TEXT NOT NULL,
      definition TEXT NOT NULL,
      scope TEXT NOT NULL,
      CONSTRAINT ge_tce UNIQUE (table_name, column_name, extension_name)
    );
  `);
  const system = db.prepare('INSERT INTO gpkg_spatial_ref_sys VALUES (?, ?, ?, ?, ?, ?, ?)');
  for (const { name, id, organization, definition, description, definition12063 } of SPATIAL_REFERENCE_SYSTEMS) {
    system.run(name, id, organization, id, definition, description, definition12063);
  }
  addExtension(db, 'gpkg_spatial_ref_sys', 'definition_12_063', 'gpkg_crs_wkt', 'crs_wkt', 'read-write');
}

/** Creates a table, enters it in the contents and, where it has a geometry, gives it a spatial index. */
export function createTable(db: Database, table: TableDefinition, lastChangeUtc: string): void {
  const columns = Object.entries(table.columns).map(([name, type]) => `${name} ${type}`);
  const geometry = table.geometry === null ? [] : [`geom ${table.geometry}`];
  db.exec(
    `CREATE TABLE ${table.name} (${['fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL', ...geometry, ...columns].join(', ')})`,
  );
  db.prepare(
    'INSERT INTO gpkg_contents (table_name, data_type, identifier, description, last_change, srs_id) VALUES (?, ?, ?, ?, ?, ?)',
  ).run(
    table.name,
    table.geometry === null ? 'attributes' : 'features',
    table.title,
    table.description,
    lastChangeUtc,
    table.geometry === null ? null : SRS_ID,
  );
  if (table.geometry === null) return;
  db.prepare('INSERT INTO gpkg_geometry_columns VALUES (?, ?, ?, ?, 1, 0)').run(
    table.name,
    'geom',
    table.geometry,
    SRS_ID,
  );
  createSpatialIndex(db, table.name);
  addExtension(db, table.name, 'geom', 'gpkg_rtree_index', 'rtree', 'write-only');
}

function addExtension(db: Database, table: string, column: string, name: string, chapter: string, scope: string): void {
  db.prepare('INSERT INTO gpkg_extensions VALUES (?, ?, ?, ?, ?)').run(
    table,
    column,
    name,
    `http://www.geopackage.org/spec120/#extension_${chapter}`,
    scope,
  );
}

/** Brings the time of change of a table in the contents up to date, where no geometry has changed. */
export function stampContents(db: Database, table: TableDefinition, lastChangeUtc: string): void {
  db.prepare('UPDATE gpkg_contents SET last_change = ? WHERE table_name = ?').run(lastChangeUtc, table.name);
}

/** Brings extent and time of change of a table in the contents up to date. It looks at every geometry. */
export function refreshContents(db: Database, table: TableDefinition, lastChangeUtc: string): void {
  if (table.geometry === null) {
    stampContents(db, table, lastChangeUtc);
    return;
  }
  db.prepare(
    `UPDATE gpkg_contents SET last_change = ?, (min_x, min_y, max_x, max_y) =
       (SELECT min(ST_MinX(geom)), min(ST_MinY(geom)), max(ST_MaxX(geom)), max(ST_MaxY(geom))
        FROM ${table.name} WHERE geom NOTNULL AND NOT ST_IsEmpty(geom))
     WHERE table_name = ?`,
  ).run(lastChangeUtc, table.name);
}

/** The functions that the triggers of a spatial index call; each connection that writes needs them. */
export function defineGeometryFunctions(db: Database): void {
  const define = (name: string, give: (bounds: NonNullable<ReturnType<typeof boundsOf>>) => number) =>
    db.function(name, { deterministic: true }, (geometry) => {
      const bounds = geometry instanceof Uint8Array ? boundsOf(geometry) : null;
      return bounds === null ? null : give(bounds);
    });
  define('ST_MinX', (bounds) => bounds.minX);
  define('ST_MaxX', (bounds) => bounds.maxX);
  define('ST_MinY', (bounds) => bounds.minY);
  define('ST_MaxY', (bounds) => bounds.maxY);
  db.function('ST_IsEmpty', { deterministic: true }, (geometry) =>
    geometry instanceof Uint8Array ? Number(boundsOf(geometry) === null) : null,
  );
}
