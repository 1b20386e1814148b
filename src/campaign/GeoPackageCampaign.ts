import { createHash } from 'node:crypto';
import { localFrameAt } from '../earth/LocalFrame.ts';
import { InputError } from '../input/InputError.ts';
import type { LineModel } from '../line/LineModel.ts';
import type { ComparisonResult, InspectionResult } from './CampaignStore.ts';
import { CAMPAIGN_TABLES, campaignTable } from './campaignTables.ts';
import { changeRow, comparisonRow, gradeBeforeOf } from './changeRows.ts';
import { composeAct, seenFindings } from './composeAct.ts';
import { coverageRow } from './coverageRows.ts';
import { dischargesOfParts } from './dischargeOfPart.ts';
import { dischargeOf, dischargeRow, sightingOf, sightingRow } from './dischargeRows.ts';
import { evidenceOf, evidenceRow, findingOf, findingRow, regrade, reviewRow } from './findingRows.ts';
import { flightPlacingRow } from './flightPlacingRows.ts';
import { flightRow, provenanceRow } from './flightRows.ts';
import { GeoPackageReading } from './GeoPackageReading.ts';
import { lineStringZ } from './geopackageGeometry.ts';
import { refreshContents, stampContents } from './geopackageTables.ts';
import { jsonColumn } from './jsonColumn.ts';
import { lineRows } from './lineRows.ts';
import { packedJson } from './packedJson.ts';
import type { ReviewableCampaign } from './ReviewableCampaign.ts';
import type { ReviewCommand, ReviewOutcome } from './ReviewCommand.ts';
import type { Llh, ReviewEntry } from './records.ts';
import type { DischargeOfPart } from './replayReview.ts';
import { replayInto } from './reviewFamilies.ts';
import { findingsOfLine } from './reviewLog.ts';
import { BEFORE_ALL_FLIGHTS_UTC } from './schemaMigrations.ts';
import { inserting, ReadRow, type Row, rowsOf } from './tableRows.ts';
import { rayRows, settingsRow } from './traceRows.ts';

/** Tables whose rows belong to one flight, in an order in which they may be emptied. */
const OF_A_FLIGHT = [
  'evidence',
  'findings',
  'rays',
  'sightings',
  'discharges',
  'coverage',
  'inspection_settings',
  'flight_placings',
  'provenance',
  'flight_tracks',
];

/** The campaign in one GeoPackage file. Made by `openGeoPackageCampaign`. */
export class GeoPackageCampaign extends GeoPackageReading implements ReviewableCampaign {
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

  saveInspection(result: InspectionResult): void {
    const flight = result.flight.name;
    const resultHash = hashOf(result);
    const axisOf = this.axes();
    this.write(() => {
      const saved = this.db.prepare('SELECT result_hash FROM provenance WHERE flight = ?').pluck().get(flight);
      if (saved === resultHash) return;
      this.dropComparison();
      const { joint } = result;
      // What other flights' rows refer to is taken out and put back under its new name before the transaction ends.
      this.db.pragma('defer_foreign_keys = ON');
      for (const table of OF_A_FLIGHT) this.db.prepare(`DELETE FROM ${table} WHERE flight = ?`).run(flight);
      for (const other of joint?.flights ?? [])
        for (const table of ['findings', 'discharges'])
          this.db.prepare(`DELETE FROM ${table} WHERE flight = ?`).run(other);
      const homeOf = (discharge: string): string => joint?.homeOf[discharge] ?? flight;
      this.add('flight_tracks', [flightRow(result.flight)]);
      this.add('provenance', [provenanceRow(flight, result.flight.provenance, resultHash)]);
      this.add(
        'discharges',
        result.discharges.map((discharge) => dischargeRow(discharge, homeOf(discharge.id))),
      );
      this.add('sightings', result.sightings.map(sightingRow));
      if (result.settings) this.add('inspection_settings', [settingsRow(flight, result.settings)]);
      for (const { id } of result.sightings) {
        const rays = result.rays?.[id];
        if (rays) this.add('rays', rayRows(id, flight, rays));
      }
      const dischargeBy = new Map(result.discharges.map((discharge) => [discharge.id, discharge]));
      this.add(
        'findings',
        result.findings.map((finding) => {
          const discharge = dischargeBy.get(finding.id);
          if (discharge === undefined) throw new Error(`finding ${finding.id} has no discharge in the same result`);
          return findingRow(finding, finding, discharge, homeOf(finding.id));
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
      if (result.placing) this.add('flight_placings', [flightPlacingRow(result.placing)]);
      if (joint) this.rename(joint);
      const log = this.acts();
      const mine = new Set(result.findings.map(({ id }) => id));
      const reviewed = log.flatMap(findingsOfLine).filter((id) => mine.has(id));
      if (reviewed.length > 0) replayInto(this.db, log, reviewed, this.dischargeOfPart());
      const ends = this.db.prepare('SELECT end_utc FROM flight_tracks').pluck().all() as string[];
      this.refresh(ends.map(geopackageTime).sort().at(-1)!);
    });
  }

  /** Points the sightings and pictures of all flights of a joint placing to the discharges as they are now called. */
  private rename({ flights, dischargeOf, renamed }: NonNullable<InspectionResult['joint']>): void {
    const sighting = this.db.prepare('UPDATE sightings SET discharge = ? WHERE id = ?');
    for (const [id, discharge] of Object.entries(dischargeOf)) sighting.run(discharge, id);
    const picture = this.db.prepare('UPDATE evidence SET finding = ? WHERE fid = ?');
    for (const row of rowsOf(this.db, 'evidence')) {
      if (!flights.includes(row.text('flight'))) continue;
      const { ownFindingId, findingId } = evidenceOf(row);
      const now = renamed[ownFindingId ?? findingId];
      if (now !== undefined) picture.run(now, row.number('fid'));
    }
  }

  saveComparison(result: ComparisonResult): void {
    this.write(() => {
      this.dropComparison();
      this.add('comparisons', [comparisonRow(result.comparison)]);
      const before = new Map(this.findings().map(({ id, grade }) => [id, grade]));
      this.add(
        'changes',
        result.changes.map((change) =>
          changeRow(
            change,
            result.pictures.get(change.laterId ?? change.earlierId ?? ''),
            before.get(change.laterId ?? '') ?? null,
          ),
        ),
      );
      for (const [finding, grade] of result.grades) regrade(this.db, finding, grade);
      const ends = this.flights().map(({ endUtc }) => endUtc);
      this.refresh(geopackageTime(ends.sort().at(-1) ?? BEFORE_ALL_FLIGHTS_UTC));
    });
  }

  review({ findingId, atUtc, who: by, what, value, why = '' }: ReviewEntry): void {
    const told = { by, atUtc, why, findings: [{ id: findingId, revision: null }] } as const;
    const outcome =
      what === 'component'
        ? this.act({ ...told, action: 'assign component', componentId: value === '' ? null : value })
        : what === 'comment'
          ? this.act({ ...told, action: 'comment', comment: value })
          : what === 'confirmed' || what === 'rejected' || what === 'reopened'
            ? this.act({ ...told, action: 'decide', decision: what === 'reopened' ? 'open' : what, comment: value })
            : null;
    if (outcome === null) throw new Error(`'${what}' is done through act()`);
    if (outcome.kind === 'refused' && outcome.because === 'no such finding')
      this.refuse('finding', findingId, 'a finding of this campaign');
    if (outcome.kind === 'refused' && outcome.because === 'no such component')
      this.refuse('component', value, 'a component of the line, or nothing for none of them');
    if (outcome.kind !== 'done') this.refuse('finding', findingId, 'a finding that can be reviewed');
  }

  act(command: ReviewCommand): ReviewOutcome {
    const changedUtc = geopackageTime(command.atUtc);
    return this.write((): ReviewOutcome => {
      const log = this.acts();
      const revisions = this.revisionsUnder(log);
      const seen = seenFindings(command);
      const stale = seen.filter(({ id, revision }) => revision !== null && revisions.get(id) !== revision);
      if (stale.length > 0) return { kind: 'conflict', findings: stale.map(({ id }) => id) };
      const composed = composeAct(command, {
        log,
        finding: (id) => this.one('findings', 'id', id, findingOf),
        discharge: (id) => this.one('discharges', 'id', id, dischargeOf)!,
        sightingsOf: (id) =>
          this.db
            .prepare('SELECT * FROM sightings WHERE discharge = ? ORDER BY fid')
            .all(id)
            .map((cells) => sightingOf(new ReadRow('sightings', cells))),
        hasComponent: (id) => this.hasComponent(id),
      });
      if (composed.kind === 'refused') return composed;
      let act: number | null = null;
      const insert = inserting(this.db, campaignTable('review_log'));
      for (const line of composed.lines) {
        insert(reviewRow(line, act));
        act ??= this.db.prepare('SELECT max(fid) FROM review_log').pluck().get() as number;
      }
      const longer = this.acts();
      const named =
        command.action === 'undo' || command.action === 'redo'
          ? longer.filter((line) => line.act === Number(composed.lines[0].value))
          : longer.filter((line) => line.act === act);
      const ids = new Set(named.flatMap(findingsOfLine));
      const family = replayInto(this.db, longer, ids, this.dischargeOfPart());
      for (const table of ['discharges', 'findings', 'review_log'])
        refreshContents(this.db, campaignTable(table), changedUtc);
      // Sightings change hands and stay where they are; there may be very many.
      stampContents(this.db, campaignTable('sightings'), changedUtc);
      return { kind: 'done', act: act!, changed: [...family].filter((id) => ids.has(id)) };
    });
  }

  close(): void {
    this.db.close();
  }

  /** One transaction that takes the write lock at once, so that what is read in it cannot be outdated when it writes. */
  private write<T>(change: () => T): T {
    try {
      return this.db.transaction(change).immediate() as T;
    } catch (error) {
      if (!(error as { code?: string }).code?.startsWith('SQLITE_BUSY')) throw error;
      return this.refuse(
        '',
        'a file that another process keeps locked',
        'a campaign that can be written to',
        'Wait until the other process is done.',
      );
    }
  }

  private add(table: string, rows: Iterable<Row>): void {
    const insert = inserting(this.db, campaignTable(table));
    for (const row of rows) insert(row);
  }

  /** Takes a comparison back, and with it what it did to the grades. */
  private dropComparison(): void {
    for (const row of rowsOf(this.db, 'changes')) {
      const [finding, grade] = [row.textOrNull('finding'), gradeBeforeOf(row)];
      if (finding !== null && grade !== null) regrade(this.db, finding, grade);
    }
    for (const table of ['changes', 'comparisons']) this.db.prepare(`DELETE FROM ${table}`).run();
  }

  private refresh(lastChangeUtc: string): void {
    for (const table of CAMPAIGN_TABLES) {
      if (table.name !== 'review_log') refreshContents(this.db, table, lastChangeUtc);
    }
  }

  /** Reads the line only when something was divided. */
  private dischargeOfPart(): DischargeOfPart {
    let ofLine: DischargeOfPart | null = null;
    return (...asked) => {
      ofLine ??= dischargesOfParts(this.line(), localFrameAt(this.about()!.originLlh));
      return ofLine(...asked);
    };
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
  const { settings, rays, placing, ...rest } = result;
  hash.update(jsonColumn({ ...rest, evidence, ...(settings ? { settings } : {}), ...(rays ? { rays } : {}) }));
  if (placing) hash.update(packedJson(placing));
  for (const { colourJpeg } of result.evidence) hash.update(colourJpeg);
  return hash.digest('hex');
}

/** An instant as gpkg_contents wants it: UTC with milliseconds. */
const geopackageTime = (utc: string): string => new Date(utc).toISOString();
