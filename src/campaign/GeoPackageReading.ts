import { createHash } from 'node:crypto';
import type { Database } from 'better-sqlite3';
import type { LineModel } from '../line/LineModel.ts';
import { changeOf, comparisonOf, earlierPictureOf } from './changeRows.ts';
import { coverageOf, overAllFlights } from './coverageRows.ts';
import { dischargeOf, sightingOf } from './dischargeRows.ts';
import { findingNumbers } from './findingNumbers.ts';
import { evidenceOf, findingOf, loggedActOf } from './findingRows.ts';
import { flightPlacingOf } from './flightPlacingRows.ts';
import { flightOf, provenanceOf } from './flightRows.ts';
import type { LoggedAct } from './ReviewCommand.ts';
import type {
  ChangeRecord,
  ComparisonRecord,
  CoverageRecord,
  DischargeRecord,
  EvidenceRecord,
  FindingRecord,
  FlightPlacing,
  FlightRecord,
  InspectionSettings,
  Llh,
  Provenance,
  ReviewEntry,
  SightingRays,
  SightingRecord,
} from './records.ts';
import { lastLineByFinding } from './reviewLog.ts';
import { SCHEMA_VERSION } from './schemaMigrations.ts';
import { ReadRow, rowsOf } from './tableRows.ts';
import { raysOfRows, settingsOf } from './traceRows.ts';

/** Everything that a campaign file tells; nothing here writes. */
export class GeoPackageReading {
  protected readonly db: Database;
  protected readonly file: string;

  constructor(db: Database, file: string) {
    this.db = db;
    this.file = file;
  }

  revision(): string {
    const results = this.db.prepare('SELECT result_hash FROM provenance ORDER BY flight').pluck().all() as string[];
    const lastAct = this.db.prepare('SELECT ifnull(max(fid), 0) FROM review_log').pluck().get() as number;
    const compared = this.db
      .prepare('SELECT earlier_result_sha256 || result_sha256 FROM comparisons')
      .pluck()
      .all() as string[];
    return `${shortHash([...results, ...compared].join(' '))}-${lastAct}`;
  }

  findingRevisions(): ReadonlyMap<string, string> {
    return this.revisionsUnder(this.acts());
  }

  about(): { name: string; originLlh: Llh; lineHash: string; schemaVersion: number } | null {
    const [row] = rowsOf(this.db, 'campaign');
    if (row === undefined) return null;
    return {
      name: row.text('name'),
      originLlh: [row.number('origin_lon_deg'), row.number('origin_lat_deg'), row.number('origin_height_m')],
      lineHash: row.text('line_hash'),
      schemaVersion: SCHEMA_VERSION,
    };
  }

  line(): LineModel {
    const [row] = rowsOf(this.db, 'campaign');
    if (row === undefined) throw new Error('the campaign has no line yet: call initialise first');
    return row.json('line_model');
  }

  inspectionOf(flightName: string): Provenance | null {
    const row = this.db.prepare('SELECT * FROM provenance WHERE flight = ?').get(flightName);
    return row === undefined ? null : provenanceOf(new ReadRow('provenance', row));
  }

  flightPlacings(): readonly FlightPlacing[] {
    return rowsOf(this.db, 'flight_placings', 'start_utc, flight').map(flightPlacingOf);
  }

  flights(): readonly FlightRecord[] {
    const provenance = new Map(
      rowsOf(this.db, 'provenance').map((row) => [row.text('flight'), provenanceOf(row)] as const),
    );
    return rowsOf(this.db, 'flight_tracks').map((row) => flightOf(row, provenance.get(row.text('flight'))!));
  }

  sightings(): readonly SightingRecord[] {
    return rowsOf(this.db, 'sightings').map(sightingOf);
  }

  discharges(): readonly DischargeRecord[] {
    return rowsOf(this.db, 'discharges').map(dischargeOf);
  }

  findings(): readonly FindingRecord[] {
    return rowsOf(this.db, 'findings')
      .map(findingOf)
      .filter(({ mergedInto }) => mergedInto === undefined);
  }

  findingNumbers(): ReadonlyMap<string, number> {
    return findingNumbers(rowsOf(this.db, 'findings').map(findingOf));
  }

  mergedFindings(): readonly FindingRecord[] {
    return rowsOf(this.db, 'findings')
      .map(findingOf)
      .filter(({ mergedInto }) => mergedInto !== undefined);
  }

  placedSightings(): readonly SightingRecord[] {
    return this.db
      .prepare('SELECT * FROM sightings WHERE discharge IS NOT NULL ORDER BY fid')
      .all()
      .map((cells) => sightingOf(new ReadRow('sightings', cells)));
  }

  sightingCounts(): { readonly all: number; readonly suspect: number } {
    return this.db
      .prepare("SELECT count(*) AS 'all', ifnull(sum(suspicions != '[]'), 0) AS suspect FROM sightings")
      .get() as { all: number; suspect: number };
  }

  evidenceCounts(): ReadonlyMap<string, number> {
    const rows = this.db.prepare('SELECT finding, count(*) AS pictures FROM evidence GROUP BY finding').all();
    return new Map((rows as { finding: string; pictures: number }[]).map((row) => [row.finding, row.pictures]));
  }

  flightByFinding(): ReadonlyMap<string, string> {
    const rows = this.db.prepare('SELECT id, flight FROM findings').all() as { id: string; flight: string }[];
    return new Map(rows.map(({ id, flight }) => [id, flight]));
  }

  evidenceOf(findingId: string): readonly EvidenceRecord[] {
    return this.db
      .prepare('SELECT * FROM evidence WHERE finding = ? ORDER BY fid')
      .all(findingId)
      .map((cells) => evidenceOf(new ReadRow('evidence', cells)));
  }

  coverage(): readonly CoverageRecord[] {
    return overAllFlights(rowsOf(this.db, 'coverage').map(coverageOf));
  }

  raysOf(sightingId: string): SightingRays | null {
    const rows = this.db
      .prepare('SELECT * FROM rays WHERE sighting = ? ORDER BY fid')
      .all(sightingId)
      .map((cells) => new ReadRow('rays', cells));
    return rows.length === 0 ? null : raysOfRows(rows);
  }

  settingsOf(flightName: string): InspectionSettings | null {
    return this.one('inspection_settings', 'flight', flightName, settingsOf);
  }

  resultHash(): string {
    const hashes = this.db.prepare('SELECT result_hash FROM provenance ORDER BY flight').pluck().all() as string[];
    return createHash('sha256').update(hashes.join('\n')).digest('hex');
  }

  comparison(): ComparisonRecord | null {
    const [row] = rowsOf(this.db, 'comparisons');
    return row === undefined ? null : comparisonOf(row);
  }

  changes(): readonly ChangeRecord[] {
    return rowsOf(this.db, 'changes').map(changeOf);
  }

  earlierPictureOf(findingId: string): EvidenceRecord | null {
    const row = this.db
      .prepare(
        'SELECT * FROM changes WHERE earlier_picture NOT NULL AND (finding = ? OR (finding IS NULL AND earlier_finding = ?))',
      )
      .get(findingId, findingId);
    return row === undefined ? null : earlierPictureOf(new ReadRow('changes', row));
  }

  acts(): readonly LoggedAct[] {
    return rowsOf(this.db, 'review_log').map(loggedActOf);
  }

  reviewLog(): readonly ReviewEntry[] {
    return this.acts().map(({ findingId, atUtc, who, what, value, why }) => ({
      findingId,
      atUtc,
      who,
      what,
      value,
      ...(why === '' ? {} : { why }),
    }));
  }

  protected one<T>(table: string, key: string, value: string, read: (row: ReadRow) => T): T | null {
    const cells = this.db.prepare(`SELECT * FROM ${table} WHERE ${key} = ?`).get(value);
    return cells === undefined ? null : read(new ReadRow(table, cells));
  }

  protected revisionsUnder(log: readonly LoggedAct[]): ReadonlyMap<string, string> {
    const last = lastLineByFinding(log);
    const rows = this.db
      .prepare('SELECT findings.id, provenance.result_hash AS result FROM findings JOIN provenance USING (flight)')
      .all() as { id: string; result: string }[];
    return new Map(rows.map(({ id, result }) => [id, `${result.slice(0, 12)}-${last.get(id) ?? 0}`]));
  }

  protected hasComponent(id: string): boolean {
    return this.line().components.some((component) => component.id === id);
  }
}

const shortHash = (text: string): string => createHash('sha256').update(text).digest('hex').slice(0, 12);
