import type { Database } from 'better-sqlite3';
import { campaignTable } from './campaignTables.ts';
import { dischargeOf, dischargeRow, sightingOf } from './dischargeRows.ts';
import { computedFindingOf, findingRow } from './findingRows.ts';
import type { LoggedAct } from './ReviewCommand.ts';
import type { DischargeRecord } from './records.ts';
import { type DischargeOfPart, type ReviewedFinding, replayReview } from './replayReview.ts';
import { familyOf } from './reviewLog.ts';
import { inserting, ReadRow, updating } from './tableRows.ts';

/** A finding in the tables, and how it got there. */
interface Kept {
  readonly flight: string;
  readonly splitFrom: string | null;
  readonly asInspected: ReviewedFinding | null;
  /** Whether the table holds another discharge than the inspection's. */
  readonly divided: boolean;
}

/**
 * Brings the rows of these findings, and of all that are tied to them by merging and splitting, to what the log says. Inside a
 * transaction of the caller. @returns the ids whose rows are of the family, after it
 */
export function replayInto(
  db: Database,
  log: readonly LoggedAct[],
  ids: Iterable<string>,
  dischargeOfPart: DischargeOfPart,
): ReadonlySet<string> {
  const family = familyOf(log, ids);
  const kept = keptFamily(db, family);
  const asInspected = [...kept.values()].flatMap(({ asInspected: one }) => (one === null ? [] : [one]));
  const now = replayReview(asInspected, log, dischargeOfPart);
  write(db, kept, now);
  return new Set([...family].filter((id) => now.some(({ finding }) => finding.id === id)));
}

function keptFamily(db: Database, family: ReadonlySet<string>): Map<string, Kept> {
  const findingRowOf = db.prepare('SELECT * FROM findings WHERE id = ?');
  const dischargeRowOf = db.prepare('SELECT * FROM discharges WHERE id = ?');
  const sightingRows = db.prepare('SELECT * FROM sightings WHERE discharge = ? ORDER BY fid');
  const rows = new Map<string, ReadRow>();
  for (const id of family) {
    const cells = findingRowOf.get(id);
    if (cells !== undefined) rows.set(id, new ReadRow('findings', cells));
  }
  const rootOf = (id: string): string => {
    const from = rows.get(id)?.textOrNull('split_from') ?? null;
    return from === null ? id : rootOf(from);
  };
  const kept = new Map<string, Kept>();
  for (const [id, row] of rows) {
    const splitFrom = row.textOrNull('split_from');
    const dischargeCells = new ReadRow('discharges', dischargeRowOf.get(id));
    const divided = dischargeCells.textOrNull('as_inspected') !== null;
    const discharge = divided ? dischargeCells.json<DischargeRecord>('as_inspected') : dischargeOf(dischargeCells);
    const sightings = [...rows.keys()]
      .filter((other) => rootOf(other) === id)
      .flatMap((other) => sightingRows.all(other).map((cells) => sightingOf(new ReadRow('sightings', cells))))
      .map((sighting) => ({ ...sighting, dischargeId: id }))
      .sort((a, b) => (a.id < b.id ? -1 : a.id > b.id ? 1 : 0));
    kept.set(id, {
      flight: row.text('flight'),
      splitFrom,
      asInspected: splitFrom === null ? { finding: computedFindingOf(row), discharge, sightings } : null,
      divided,
    });
  }
  return kept;
}

function write(db: Database, kept: ReadonlyMap<string, Kept>, now: readonly ReviewedFinding[]): void {
  const insertDischarge = inserting(db, campaignTable('discharges'));
  const updateDischarge = updating(db, campaignTable('discharges'));
  const insertFinding = inserting(db, campaignTable('findings'));
  const updateFinding = updating(db, campaignTable('findings'));
  const moveSighting = db.prepare('UPDATE sightings SET discharge = ? WHERE id = ? AND discharge IS NOT ?');
  const flightOf = new Map([...kept].map(([id, { flight }]) => [id, flight]));
  for (const { finding, discharge } of now) {
    const before = kept.get(finding.id);
    const flight = before?.flight ?? flightOf.get(finding.splitFrom ?? '')!;
    flightOf.set(finding.id, flight);
    const asInspected = before?.asInspected ?? null;
    const computed = asInspected?.finding ?? { ...finding, decision: 'open' as const, comment: '' };
    const row = findingRow(finding, computed, discharge, flight);
    const divided = asInspected !== null && discharge !== asInspected.discharge ? asInspected.discharge : null;
    if (before === undefined) {
      insertDischarge(dischargeRow(discharge, flight));
      insertFinding(row);
      continue;
    }
    if (before.splitFrom !== null || before.divided || divided !== null)
      updateDischarge(dischargeRow(discharge, flight, divided));
    updateFinding(row);
  }
  for (const { finding, sightings } of now)
    for (const { id } of sightings) moveSighting.run(finding.id, id, finding.id);
  const standing = new Set(now.map(({ finding }) => finding.id));
  for (const [id, { splitFrom }] of kept) {
    if (splitFrom === null || standing.has(id)) continue;
    db.prepare('DELETE FROM findings WHERE id = ?').run(id);
    db.prepare('DELETE FROM discharges WHERE id = ?').run(id);
  }
}
