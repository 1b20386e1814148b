import { createHash } from 'node:crypto';
import type { Database } from 'better-sqlite3';
import { localFrameAt } from '../earth/LocalFrame.ts';
import { InputError } from '../input/InputError.ts';
import type { LineModel } from '../line/LineModel.ts';
import type { InspectionResult } from './CampaignStore.ts';
import { CAMPAIGN_TABLES, campaignTable } from './campaignTables.ts';
import { coverageOf, coverageRow, overAllFlights } from './coverageRows.ts';
import { dischargeOf, dischargeRow, sightingOf, sightingRow } from './dischargeRows.ts';
import {
  computedFindingOf,
  evidenceOf,
  evidenceRow,
  findingOf,
  findingRow,
  isAbout,
  reviewEntryOf,
  reviewRow,
  withReview,
} from './findingRows.ts';
import { flightOf, flightRow, provenanceOf, provenanceRow } from './flightRows.ts';
import { lineStringZ } from './geopackageGeometry.ts';
import { refreshContents } from './geopackageTables.ts';
import { jsonColumn } from './jsonColumn.ts';
import { lineRows } from './lineRows.ts';
import type { ReviewableCampaign } from './ReviewableCampaign.ts';
import type {
  CoverageRecord,
  DischargeRecord,
  EvidenceRecord,
  FindingRecord,
  FlightRecord,
  Llh,
  Provenance,
  ReviewEntry,
  SightingRecord,
} from './records.ts';
import { BEFORE_ALL_FLIGHTS_UTC, SCHEMA_VERSION } from './schemaMigrations.ts';
import { inserting, ReadRow, type Row, rowsOf } from './tableRows.ts';

/** Tables whose rows belong to one flight, in an order in which they may be emptied. */
const OF_A_FLIGHT = ['evidence', 'findings', 'sightings', 'discharges', 'coverage', 'provenance', 'flight_tracks'];

/** The campaign in one GeoPackage file. Made by `openGeoPackageCampaign`. */
export class GeoPackageCampaign implements ReviewableCampaign {
  private readonly db: Database;
  private readonly file: string;

  constructor(db: Database, file: string) {
    this.db = db;
    this.file = file;
  }

  initialise(about: { name: string; originLlh: Llh; line: LineModel; lineHash: string }): void {
    this.write(() => {
      const before = this.about();
      if (before !== null) {
        this.mustAgree('name', about.name, before.name);
        this.mustAgree('origin', about.originLlh.join(', '), before.originLlh.join(', '));
        this.mustAgree('line model', about.lineHash, before.lineHash);
        return;
      }
      const [lonDeg, latDeg, heightM] = about.originLlh;
      this.add('campaign', [
        {
          name: about.name,
          origin_lon_deg: lonDeg,
          origin_lat_deg: latDeg,
          origin_height_m: heightM,
          line_name: about.line.name,
          line_owner: about.line.owner,
          voltage_kv: about.line.voltageKv,
          line_hash: about.lineHash,
          line_model: jsonColumn(about.line),
        },
      ]);
      const { structures, components, conductors } = lineRows(about.line, about.originLlh);
      this.add('structures', structures);
      this.add('components', components);
      this.add('conductors', conductors);
      this.refresh(BEFORE_ALL_FLIGHTS_UTC);
    });
  }

  revision(): string {
    const results = this.db.prepare('SELECT result_hash FROM provenance ORDER BY flight').pluck().all() as string[];
    const lastAct = this.db.prepare('SELECT ifnull(max(fid), 0) FROM review_log').pluck().get() as number;
    return `${shortHash(results.join(' '))}-${lastAct}`;
  }

  findingRevisions(): ReadonlyMap<string, string> {
    const rows = this.db
      .prepare(
        `SELECT findings.id, provenance.result_hash AS result, ifnull(max(review_log.fid), 0) AS act
         FROM findings JOIN provenance USING (flight) LEFT JOIN review_log ON review_log.finding = findings.id
         GROUP BY findings.id`,
      )
      .all() as { id: string; result: string; act: number }[];
    return new Map(rows.map(({ id, result, act }) => [id, `${shortHash(result)}-${act}`]));
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

  saveInspection(result: InspectionResult): void {
    const flight = result.flight.name;
    const resultHash = hashOf(result);
    const axisOf = this.axes();
    this.write(() => {
      const saved = this.db.prepare('SELECT result_hash FROM provenance WHERE flight = ?').pluck().get(flight);
      if (saved === resultHash) return;
      for (const table of OF_A_FLIGHT) this.db.prepare(`DELETE FROM ${table} WHERE flight = ?`).run(flight);
      this.add('flight_tracks', [flightRow(result.flight)]);
      this.add('provenance', [provenanceRow(flight, result.flight.provenance, resultHash)]);
      this.add(
        'discharges',
        result.discharges.map((discharge) => dischargeRow(discharge, flight)),
      );
      this.add('sightings', result.sightings.map(sightingRow));
      const dischargeBy = new Map(result.discharges.map((discharge) => [discharge.id, discharge]));
      const log = rowsOf(this.db, 'review_log');
      this.add(
        'findings',
        result.findings.map((finding) => {
          const discharge = dischargeBy.get(finding.id);
          if (discharge === undefined) throw new Error(`finding ${finding.id} has no discharge in the same result`);
          const words = log.filter((row) => isAbout(row, discharge)).map(reviewEntryOf);
          return findingRow(withReview(finding, discharge, words), finding, discharge, flight);
        }),
      );
      this.add('evidence', result.evidence.map(evidenceRow));
      this.add(
        'coverage',
        result.coverage.map((record) => {
          const geometry = axisOf(record.componentId);
          return coverageRow(record, flight, geometry);
        }),
      );
      const ends = this.db.prepare('SELECT end_utc FROM flight_tracks').pluck().all() as string[];
      this.refresh(ends.map(geopackageTime).sort().at(-1)!);
    });
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
    return rowsOf(this.db, 'findings').map(findingOf);
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

  review(entry: ReviewEntry): void {
    const changedUtc = geopackageTime(entry.atUtc);
    this.write(() => {
      const row = this.db.prepare('SELECT * FROM findings WHERE id = ?').get(entry.findingId);
      if (row === undefined) this.refuse('finding', entry.findingId, 'a finding of this campaign');
      if (entry.what === 'component' && entry.value !== '' && !this.hasComponent(entry.value)) {
        this.refuse('component', entry.value, 'a component of the line, or nothing for none of them');
      }
      const cells = this.db.prepare('SELECT * FROM discharges WHERE id = ?').get(entry.findingId);
      const discharge = dischargeOf(new ReadRow('discharges', cells));
      this.add('review_log', [reviewRow(entry, discharge)]);
      const words = rowsOf(this.db, 'review_log').filter((logRow) => isAbout(logRow, discharge));
      const reviewed = withReview(computedFindingOf(new ReadRow('findings', row)), discharge, words.map(reviewEntryOf));
      this.db
        .prepare('UPDATE findings SET component = ?, component_probability = ?, decision = ?, comment = ? WHERE id = ?')
        .run(reviewed.componentId, reviewed.componentProbability, reviewed.decision, reviewed.comment, reviewed.id);
      for (const table of ['findings', 'review_log']) refreshContents(this.db, campaignTable(table), changedUtc);
    });
  }

  reviewLog(): readonly ReviewEntry[] {
    return rowsOf(this.db, 'review_log').map(reviewEntryOf);
  }

  close(): void {
    this.db.close();
  }

  /** One transaction that takes the write lock at once, so that what is read in it cannot be outdated when it writes. */
  private write(change: () => void): void {
    try {
      this.db.transaction(change).immediate();
    } catch (error) {
      if (!(error as { code?: string }).code?.startsWith('SQLITE_BUSY')) throw error;
      this.refuse(
        '',
        'a file that another process keeps locked',
        'a campaign that can be written to',
        'Wait until the other process is done.',
      );
    }
  }

  private add(table: string, rows: readonly Row[]): void {
    const insert = inserting(this.db, campaignTable(table));
    for (const row of rows) insert(row);
  }

  private refresh(lastChangeUtc: string): void {
    for (const table of CAMPAIGN_TABLES) {
      if (table.name !== 'review_log') refreshContents(this.db, table, lastChangeUtc);
    }
  }

  private hasComponent(id: string): boolean {
    return this.line().components.some((component) => component.id === id);
  }

  /** Geometry of a component's axis, by its name. */
  private axes(): (componentId: string) => Buffer | null {
    const about = this.about();
    if (about === null) throw new Error('the campaign has no line yet: call initialise first');
    const frame = localFrameAt(about.originLlh);
    const byId = new Map(this.line().components.map((component) => [component.id, component]));
    return (componentId) => {
      const component = byId.get(componentId);
      if (component === undefined) throw new Error(`coverage of ${componentId}, which the line does not have`);
      return lineStringZ(component.axisEnuM.map((point) => frame.llhFromEnu(point)));
    };
  }

  private mustAgree(field: string, given: string, kept: string): void {
    if (given === kept) return;
    this.refuse(
      field,
      given,
      `${kept}, as this campaign has`,
      'Use the same line and origin, or begin another campaign file.',
    );
  }

  private refuse(field: string, found: string, expected: string, todo = 'Check the name.'): never {
    throw new InputError({ file: this.file, field, found, expected, todo });
  }
}

/** Identity of a whole result, pictures included. */
function hashOf(result: InspectionResult): string {
  const hash = createHash('sha256');
  const evidence = result.evidence.map(({ colourJpeg, ...about }) => about);
  hash.update(jsonColumn({ ...result, evidence }));
  for (const { colourJpeg } of result.evidence) hash.update(colourJpeg);
  return hash.digest('hex');
}

const shortHash = (text: string): string => createHash('sha256').update(text).digest('hex').slice(0, 12);

/** An instant as gpkg_contents wants it: UTC with milliseconds. */
const geopackageTime = (utc: string): string => new Date(utc).toISOString();
