import type { Database } from 'better-sqlite3';

/**
 * The R-tree of a feature table, with the triggers that keep it true when any program edits the layer.
 * Source: OGC 12-128r17 (GeoPackage 1.3), extension F.3.
 */
export function createSpatialIndex(db: Database, table: string): void {
  const index = `rtree_${table}_geom`;
  const filled = '(NEW.geom NOTNULL AND NOT ST_IsEmpty(NEW.geom))';
  const empty = '(NEW.geom ISNULL OR ST_IsEmpty(NEW.geom))';
  const put = `INSERT OR REPLACE INTO ${index} VALUES (NEW.fid, ST_MinX(NEW.geom), ST_MaxX(NEW.geom), ST_MinY(NEW.geom), ST_MaxY(NEW.geom));`;
  db.exec(`
    CREATE VIRTUAL TABLE ${index} USING rtree(id, minx, maxx, miny, maxy);
    CREATE TRIGGER ${index}_insert AFTER INSERT ON ${table} WHEN ${filled}
      BEGIN ${put} END;
    CREATE TRIGGER ${index}_update1 AFTER UPDATE OF geom ON ${table} WHEN OLD.fid = NEW.fid AND ${filled}
      BEGIN ${put} END;
    CREATE TRIGGER ${index}_update2 AFTER UPDATE OF geom ON ${table} WHEN OLD.fid = NEW.fid AND ${empty}
      BEGIN DELETE FROM ${index} WHERE id = OLD.fid; END;
    CREATE TRIGGER ${index}_update3 AFTER UPDATE ON ${table} WHEN OLD.fid != NEW.fid AND ${filled}
      BEGIN DELETE FROM ${index} WHERE id = OLD.fid; ${put} END;
    CREATE TRIGGER ${index}_update4 AFTER UPDATE ON ${table} WHEN OLD.fid != NEW.fid AND ${empty}
      BEGIN DELETE FROM ${index} WHERE id IN (OLD.fid, NEW.fid); END;
    CREATE TRIGGER ${index}_delete AFTER DELETE ON ${table} WHEN OLD.geom NOTNULL
      BEGIN DELETE FROM ${index} WHERE id = OLD.fid; END;
  `);
}
