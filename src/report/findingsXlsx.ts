import { unzipSync, type Zippable, zipSync } from 'fflate';
import writeXlsxFile, { type Row, type Sheet } from 'write-excel-file/node';
import { reasonInEnglish } from '../grade/reasonsInEnglish.ts';
import { type Cell, findingColumns } from './findingColumns.ts';
import { coverageColumns } from './findingsCsv.ts';
import type { ReportContents } from './ReportContents.ts';

/** The first date that a ZIP archive can hold: equal contents are to give equal bytes on any day. */
const NO_DATE = new Date(1980, 0, 1);

/**
 * Findings, changes and coverage as a workbook (ISO/IEC 29500), a sheet each, with the same columns as the CSV. Text is
 * stored as text, whatever it begins with, so that no cell becomes a formula.
 */
export async function findingsXlsx(contents: ReportContents): Promise<Uint8Array> {
  const findings = [...contents.findings, ...contents.rejected].map((each) => findingColumns(contents, each));
  const sheets: Sheet<never>[] = [
    sheet('Findings', findings, ['number', 'finding_id']),
    ...(contents.comparison === null ? [] : [sheet('Changes', changeRows(contents), ['change'])]),
    sheet('Coverage', coverageColumns(contents), ['component_id']),
    sheet('About', aboutRows(contents), ['what', 'value']),
  ];
  return undated(new Uint8Array(await writeXlsxFile(sheets as never).toBuffer()));
}

function sheet(name: string, rows: readonly Readonly<Record<string, Cell>>[], empty: readonly string[]): Sheet<never> {
  const columns = rows[0] === undefined ? [...empty] : Object.keys(rows[0]);
  const head: Row = columns.map((column) => ({ value: column, type: String, fontWeight: 'bold' }));
  const body = rows.map((row): Row => columns.map((column) => cellOf(row[column])));
  const widest = (column: string): number =>
    Math.min(60, Math.max(column.length, ...rows.slice(0, 200).map((row) => String(row[column] ?? '').length)) + 2);
  return {
    sheet: name,
    data: [head, ...body],
    columns: columns.map((column) => ({ width: widest(column) })),
    stickyRowsCount: 1,
  } as Sheet<never>;
}

function cellOf(value: Cell | undefined): Row[number] {
  if (value === null || value === undefined) return null;
  if (typeof value === 'number') return { value, type: Number };
  if (typeof value === 'boolean') return { value, type: Boolean };
  return { value, type: String };
}

const changeRows = (contents: ReportContents): Record<string, Cell>[] =>
  contents.changes.map((change) => ({
    finding_id: change.laterId,
    earlier_finding_id: change.earlierId,
    component_id: change.componentId,
    change: change.change,
    earlier_photon_rate_per_s: change.history[0] ? Number(change.history[0].rate.rateHz.toPrecision(3)) : null,
    rate_ratio: change.rate ? Number(change.rate.ratio.toPrecision(3)) : null,
    rate_ratio_low95: change.rate ? Number(change.rate.lower.toPrecision(3)) : null,
    rate_ratio_high95: change.rate && change.rate.upper < 1e9 ? Number(change.rate.upper.toPrecision(3)) : null,
    probability_if_unchanged: change.probability === null ? null : Number(change.probability.toPrecision(2)),
    because: reasonInEnglish(change.because),
  }));

function aboutRows(contents: ReportContents): Record<string, Cell>[] {
  const row = (what: string, value: Cell) => ({ what, value });
  return [
    row('campaign', contents.name),
    row('line', contents.line.name),
    row('owner', contents.line.owner),
    row('voltage, kV line to line', contents.line.voltageKv),
    ...contents.flights.flatMap(({ name, startUtc, provenance }) => [
      row('flight', name),
      row('flown from', startUtc),
      row('software', provenance.software),
      row('registration SHA-256', provenance.registrationHash),
    ]),
    row(
      'advice',
      'Advice only: the rules of the line owner, local law and the judgement of qualified people come first.',
    ),
  ];
}

/** The same archive without the time at which it was made. */
function undated(archive: Uint8Array): Uint8Array {
  const files: Zippable = {};
  for (const [name, bytes] of Object.entries(unzipSync(archive)))
    files[name] = [name === 'docProps/core.xml' ? withoutTimes(bytes) : bytes, { mtime: NO_DATE }];
  return zipSync(files, { level: 6 });
}

const withoutTimes = (core: Uint8Array): Uint8Array =>
  new TextEncoder().encode(
    new TextDecoder().decode(core).replace(/(<dcterms:(?:created|modified)[^>]*>)[^<]*/g, '$11980-01-01T00:00:00Z'),
  );
