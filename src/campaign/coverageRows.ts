import { jsonColumn } from './jsonColumn.ts';
import type { CoverageRecord, CoverageView } from './records.ts';
import type { Cell, ReadRow, Row } from './tableRows.ts';

export const coverageRow = (coverage: CoverageRecord, flight: string, geom: Cell): Row => {
  const { view } = coverage;
  return {
    geom,
    component: coverage.componentId,
    flight,
    state: coverage.state,
    frames_in_view: coverage.framesInView,
    nearest_range_m: coverage.nearestRangeM,
    limit_hz: coverage.limitHz,
    farthest_range_m: view?.farthestRangeM ?? null,
    covered_share: view?.coveredShare ?? null,
    passes: view?.passes ?? null,
    view_azimuths_deg: view ? jsonColumn(view.azimuthsDeg.map(tenth)) : null,
    view_elevations_deg: view ? jsonColumn(view.elevationsDeg.map(tenth)) : null,
    exposure_s: view?.exposureS ?? null,
    smear_px: view?.smearPx ?? null,
    hidden_share: view?.hiddenShare ?? null,
    hidden_by: view?.hiddenBy ?? null,
    fly_again: view?.flyAgain ?? null,
  };
};

const tenth = (degrees: number): number => Number(degrees.toFixed(1));

export const coverageOf = (row: ReadRow): CoverageRecord => {
  const passes = row.numberOrNull('passes');
  return {
    componentId: row.text('component'),
    state: row.text('state') as CoverageRecord['state'],
    framesInView: row.number('frames_in_view'),
    nearestRangeM: row.numberOrNull('nearest_range_m'),
    limitHz: row.numberOrNull('limit_hz'),
    ...(passes === null
      ? {}
      : {
          view: {
            coveredShare: row.number('covered_share'),
            passes,
            azimuthsDeg: row.json<number[]>('view_azimuths_deg'),
            elevationsDeg: row.json<number[]>('view_elevations_deg'),
            farthestRangeM: row.numberOrNull('farthest_range_m'),
            exposureS: row.number('exposure_s'),
            smearPx: row.numberOrNull('smear_px'),
            hiddenShare: row.number('hidden_share'),
            hiddenBy: row.textOrNull('hidden_by'),
            flyAgain: row.textOrNull('fly_again'),
          },
        }),
  };
};

const WEIGHT = { finding: 2, clear: 1, 'not seen': 0 } as const;

/**
 * One record a component over all flights: a finding in any flight outweighs clear, clear outweighs not seen; frames and
 * passes add up, and the best range and the best limit stand.
 */
export function overAllFlights(records: readonly CoverageRecord[]): CoverageRecord[] {
  const merged = new Map<string, CoverageRecord>();
  for (const record of records) {
    const before = merged.get(record.componentId);
    if (before === undefined) {
      merged.set(record.componentId, record);
      continue;
    }
    const state = WEIGHT[record.state] > WEIGHT[before.state] ? record.state : before.state;
    const view = together(before, record, state);
    merged.set(record.componentId, {
      componentId: record.componentId,
      state,
      framesInView: before.framesInView + record.framesInView,
      nearestRangeM: least(before.nearestRangeM, record.nearestRangeM),
      limitHz: least(before.limitHz, record.limitHz),
      ...(view ? { view } : {}),
    });
  }
  return [...merged.values()];
}

const least = (a: number | null, b: number | null): number | null => (a === null ? b : b === null ? a : Math.min(a, b));

function together(a: CoverageRecord, b: CoverageRecord, state: CoverageRecord['state']): CoverageView | undefined {
  if (!a.view || !b.view) return a.view ?? b.view;
  const frames = a.framesInView + b.framesInView;
  const hidden = a.view.hiddenShare * a.framesInView + b.view.hiddenShare * b.framesInView;
  const moreHidden = a.view.hiddenShare * a.framesInView >= b.view.hiddenShare * b.framesInView ? a.view : b.view;
  const farthest = least(
    a.view.farthestRangeM && -a.view.farthestRangeM,
    b.view.farthestRangeM && -b.view.farthestRangeM,
  );
  return {
    coveredShare: Math.max(a.view.coveredShare, b.view.coveredShare),
    passes: a.view.passes + b.view.passes,
    azimuthsDeg: [...a.view.azimuthsDeg, ...b.view.azimuthsDeg],
    elevationsDeg: [...a.view.elevationsDeg, ...b.view.elevationsDeg],
    farthestRangeM: farthest === null ? null : -farthest,
    exposureS: a.view.exposureS + b.view.exposureS,
    smearPx: least(a.view.smearPx, b.view.smearPx),
    hiddenShare: frames > 0 ? hidden / frames : 0,
    hiddenBy: moreHidden.hiddenBy ?? a.view.hiddenBy ?? b.view.hiddenBy,
    // One flight that saw it well is enough.
    flyAgain: state === 'not seen' ? (a.view.flyAgain ?? b.view.flyAgain) : null,
  };
}
