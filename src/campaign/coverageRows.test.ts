import { expect, test } from 'vitest';
import { overAllFlights } from './coverageRows.ts';
import type { CoverageRecord } from './records.ts';

const VIEW = {
  coveredShare: 0.4,
  passes: 1,
  azimuthsDeg: [12],
  elevationsDeg: [-3],
  farthestRangeM: 71,
  exposureS: 2,
  smearPx: 5,
  hiddenShare: 0.6,
  hiddenBy: 'T7',
  flyAgain: 'hidden by T7: from another side or height',
} as const;

test('a component hidden in one flight and clear in the next is clear, need not be flown again, and keeps both directions', () => {
  const hidden: CoverageRecord = {
    componentId: 'c',
    state: 'not seen',
    framesInView: 100,
    nearestRangeM: 45,
    limitHz: null,
    view: VIEW,
  };
  const clear: CoverageRecord = {
    componentId: 'c',
    state: 'clear',
    framesInView: 300,
    nearestRangeM: 38,
    limitHz: 7e8,
    view: {
      ...VIEW,
      coveredShare: 1,
      azimuthsDeg: [192],
      farthestRangeM: 52,
      smearPx: 7,
      hiddenShare: 0,
      hiddenBy: null,
      flyAgain: null,
    },
  };
  for (const order of [
    [hidden, clear],
    [clear, hidden],
  ]) {
    const [merged] = overAllFlights(order);
    expect(merged).toMatchObject({ state: 'clear', framesInView: 400, nearestRangeM: 38, limitHz: 7e8 });
    expect(merged.view).toMatchObject({ coveredShare: 1, passes: 2, farthestRangeM: 71, exposureS: 4, smearPx: 5 });
    expect(merged.view?.flyAgain).toBeNull();
    // 60 of 400 frames.
    expect(merged.view?.hiddenShare).toBeCloseTo(0.15, 12);
    expect([...(merged.view?.azimuthsDeg ?? [])].sort((a, b) => a - b)).toEqual([12, 192]);
  }
  expect(overAllFlights([hidden, hidden])[0].view?.flyAgain).toBe('hidden by T7: from another side or height');
});
