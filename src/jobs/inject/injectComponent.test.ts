import { expect, test } from 'vitest';
import type { LineComponent } from '../../line/LineModel.ts';
import { randomFrom } from '../../maths/random.ts';
import { flyPast, LINE_CORRIDOR } from '../../sighting/flyPast.fixture.ts';
import { type InjectionConditions, injectComponent } from './injectComponent.ts';

const clamp = (id: string, eastM: number): LineComponent => ({
  id,
  kind: 'clamp',
  structureIds: ['T1'],
  circuit: '',
  phase: 'A',
  axisEnuM: [
    [eastM, 40, 1],
    [eastM, 40, 1],
  ],
  radiusM: 0.1,
  sigmaM: 0.05,
  discs: 0,
  bundle: null,
});

const line = { name: 'test line', owner: '', voltageKv: 132, structures: [], components: [] };
const flown = flyPast(randomFrom(61), { frames: 170, backgroundPerFrame: 5, sources: [] });
const flight = { ...flown, corridor: LINE_CORRIDOR, threshold: 18.8, blurSigmaPx: 0.9 };

const conditions: InjectionConditions = {
  ratesHz: [],
  along: null,
  trials: 8,
  bunch: 1,
  onMains: false,
  seed: 1,
  eventsPerPhotonAt: (rangeM) => 1e-6 / rangeM ** 2,
  finderEfficiency: 0.9,
  backgroundPerFrame: 5,
  spotSigmaPx: 1.3,
  exposureS: 0.018,
  frameRateHz: 50,
  mainsHz: 50,
  watch: { progress: () => undefined, note: () => undefined },
};

test('the rate that injection finds with 95 % is the analytic limit of coverage, within what 56 trials tell, seed 61', async () => {
  const result = await injectComponent(clamp('C1', 25.5), line, flight, conditions);
  expect(result.passes).toBe(1);
  expect(result.points.length).toBe(7);
  // One pass: what it finds alone is what is found, at the range of the clamp.
  expect(result.points.map(({ foundByPass }) => foundByPass)).toEqual(result.points.map(({ found }) => [found]));
  expect(result.views.length).toBe(1);
  expect(result.views[0].nearestM).toBeGreaterThan(39);
  expect(result.views[0].nearestM).toBeLessThan(41);
  // Detection rises with the rate from seldom to nearly always.
  expect(result.points[0].probability).toBeLessThan(0.6);
  expect(result.points[6].probability).toBeGreaterThan(0.7);
  // One standard deviation of 56 trials is 12 %.
  expect(Math.abs(Math.log((result.limitHz ?? 0) / (result.analyticLimitHz ?? 1)))).toBeLessThan(0.36);
});

test('what the flight never saw has no limit, and nothing is injected there', async () => {
  const result = await injectComponent(clamp('C2', 900), line, flight, conditions);
  expect(result).toMatchObject({ passes: 0, analyticLimitHz: null, limitHz: null, points: [] });
});
