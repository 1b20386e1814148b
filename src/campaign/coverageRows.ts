import type { CoverageRecord } from './records.ts';
import type { Cell, ReadRow, Row } from './tableRows.ts';

export const coverageRow = (coverage: CoverageRecord, flight: string, geom: Cell): Row => ({
  geom,
  component: coverage.componentId,
  flight,
  state: coverage.state,
  frames_in_view: coverage.framesInView,
  nearest_range_m: coverage.nearestRangeM,
  limit_hz: coverage.limitHz,
});

export const coverageOf = (row: ReadRow): CoverageRecord => ({
  componentId: row.text('component'),
  state: row.text('state') as CoverageRecord['state'],
  framesInView: row.number('frames_in_view'),
  nearestRangeM: row.numberOrNull('nearest_range_m'),
  limitHz: row.numberOrNull('limit_hz'),
});

const WEIGHT = { finding: 2, clear: 1, 'not seen': 0 } as const;

/**
 * One record a component over all flights: a finding in any flight outweighs clear, clear outweighs not seen; frames add up,
 * and the best range and the best limit stand.
 */
export function overAllFlights(records: readonly CoverageRecord[]): CoverageRecord[] {
  const least = (a: number | null, b: number | null) => (a === null ? b : b === null ? a : Math.min(a, b));
  const merged = new Map<string, CoverageRecord>();
  for (const record of records) {
    const before = merged.get(record.componentId);
    merged.set(
      record.componentId,
      before === undefined
        ? record
        : {
            componentId: record.componentId,
            state: WEIGHT[record.state] > WEIGHT[before.state] ? record.state : before.state,
            framesInView: before.framesInView + record.framesInView,
            nearestRangeM: least(before.nearestRangeM, record.nearestRangeM),
            limitHz: least(before.limitHz, record.limitHz),
          },
    );
  }
  return [...merged.values()];
}
