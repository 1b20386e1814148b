import { stringify } from 'csv-stringify/sync';
import { type Cell, findingColumns } from './findingColumns.ts';
import type { ReportContents } from './ReportContents.ts';

/**
 * Text that a spreadsheet would take for a formula is put behind an apostrophe; numbers are left alone, as a
 * longitude may well begin with a minus.
 */
const table = (rows: readonly Readonly<Record<string, Cell>>[], columns: readonly string[]): string =>
  stringify([...rows], {
    header: true,
    columns: [...columns],
    escape_formulas: true,
    cast: { boolean: (value) => (value ? 'yes' : 'no') },
  });

export function findingsCsv(contents: ReportContents): string {
  const rows = [...contents.findings, ...contents.rejected].map((each) => findingColumns(contents, each));
  return table(rows, rows[0] === undefined ? ['number', 'finding_id'] : Object.keys(rows[0]));
}

/** What was seen of every component: the limit says what "clear" is worth. */
export function coverageColumns(contents: ReportContents): Record<string, Cell>[] {
  const components = new Map(contents.line.components.map((component) => [component.id, component]));
  return contents.coverage.map((row) => {
    const component = components.get(row.componentId);
    return {
      component_id: row.componentId,
      component_kind: component?.kind ?? null,
      structures: component?.structureIds.join(' ') ?? null,
      circuit: component?.circuit ?? null,
      phase: component?.phase ?? null,
      state: row.state,
      frames_in_view: row.framesInView,
      nearest_range_m: row.nearestRangeM === null ? null : Number(row.nearestRangeM.toFixed(1)),
      found_with_95pct_from_photons_per_s: row.limitHz === null ? null : Number(row.limitHz.toPrecision(2)),
      farthest_range_m: rounded(row.view?.farthestRangeM, 1),
      passes: row.view?.passes ?? null,
      view_azimuths_deg: row.view?.azimuthsDeg.map((deg) => deg.toFixed(0)).join(' ') ?? null,
      view_elevations_deg: row.view?.elevationsDeg.map((deg) => deg.toFixed(0)).join(' ') ?? null,
      exposure_s: rounded(row.view?.exposureS, 2),
      smear_px: rounded(row.view?.smearPx, 1),
      hidden_share: rounded(row.view?.hiddenShare, 2),
      hidden_by: row.view?.hiddenBy ?? null,
      fly_again: row.view?.flyAgain ?? null,
    };
  });
}

export const coverageCsv = (contents: ReportContents): string =>
  table(coverageColumns(contents), [
    'component_id',
    'component_kind',
    'structures',
    'circuit',
    'phase',
    'state',
    'frames_in_view',
    'nearest_range_m',
    'found_with_95pct_from_photons_per_s',
    'farthest_range_m',
    'passes',
    'view_azimuths_deg',
    'view_elevations_deg',
    'exposure_s',
    'smear_px',
    'hidden_share',
    'hidden_by',
    'fly_again',
  ]);

const rounded = (value: number | null | undefined, digits: number): number | null =>
  value === null || value === undefined ? null : Number(value.toFixed(digits));
