import type { Database } from 'better-sqlite3';
import { MAP_STYLES } from './mapStyles.ts';

/**
 * The table of styles that desktop GIS look for in a GeoPackage, filled with ours. A table by convention, not of the standard: it is
 * listed among the contents as attributes, so that every reader takes it for a plain table. Where a GIS has put styles of its own
 * there, they stay, and ours are added by name.
 */
export function createLayerStyles(db: Database, lastChangeUtc: string): void {
  db.exec(`
    CREATE TABLE IF NOT EXISTS layer_styles (
      id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
      f_table_catalog TEXT,
      f_table_schema TEXT,
      f_table_name TEXT NOT NULL,
      f_geometry_column TEXT NOT NULL,
      styleName TEXT NOT NULL,
      styleQML TEXT,
      styleSLD TEXT NOT NULL,
      useAsDefault BOOLEAN NOT NULL,
      description TEXT NOT NULL,
      owner TEXT NOT NULL,
      ui TEXT,
      update_time DATETIME NOT NULL
    );
  `);
  const insert = db.prepare(
    `INSERT INTO layer_styles (f_table_catalog, f_table_schema, f_table_name, f_geometry_column, styleName, styleSLD, useAsDefault, description, owner, update_time)
     SELECT '', '', @table, 'geom', @table, @sld, 0, @title, '', @changed
     WHERE NOT EXISTS (SELECT 1 FROM layer_styles WHERE f_table_name = @table AND styleName = @table)`,
  );
  for (const { table, title, sld } of MAP_STYLES) insert.run({ table, title, sld, changed: lastChangeUtc });
  db.prepare(
    "INSERT OR IGNORE INTO gpkg_contents (table_name, data_type, identifier, description, last_change) VALUES ('layer_styles', 'attributes', 'Layer styles', 'How the layers are drawn, OGC SLD 1.1', ?)",
  ).run(lastChangeUtc);
}
