import { expect, test } from 'vitest';
import { diagonal3 } from '../../maths/mat3.ts';
import { garwoodInterval } from '../../maths/poissonInterval.ts';
import { randomFrom } from '../../maths/random.ts';
import type { Vec3 } from '../../maths/vec3.ts';
import type { PhotonRate } from '../PhotonRate.ts';
import type { ComparedCampaign, ComparedFinding, Limit } from './ComparedFinding.ts';
import { chanceOfMissing } from './chanceOfMissing.ts';
import { CHANGE_PARAMETERS } from './changeParameters.ts';
import { adjustedProbabilities } from './falseDiscovery.ts';
import { matchFindings } from './matchFindings.ts';
import { rateChange } from './rateChange.ts';
import { tellChanges } from './tellChanges.ts';

/** So many events where one photon a second gives `grasp` of them, steady, no background. */
function rateOf(events: number, grasp = 1e-9, relativeSigma = 0.1): PhotonRate {
  const counting = garwoodInterval(events, 0.95);
  const s = 1.96 * relativeSigma;
  return {
    rateHz: events / grasp,
    countingInterval: { lower: counting.lower / grasp, upper: counting.upper / grasp },
    interval: {
      lower: (events / grasp) * Math.exp(-Math.hypot(s, Math.log(events / counting.lower))),
      upper: (events / grasp) * Math.exp(Math.hypot(s, Math.log(counting.upper / events))),
    },
    events,
    background: 0,
    overdispersion: 1,
    bandNm: [240, 280],
    budget: [
      { name: 'range', relativeSigma: 0.04 },
      { name: 'camera efficiency', relativeSigma },
    ],
    notes: [],
  };
}

const finding = (id: string, positionEnuM: Vec3, more: Partial<ComparedFinding> = {}): ComparedFinding => ({
  id,
  positionEnuM,
  covarianceEnuM2: diagonal3(0.01, 0.01, 0.01),
  componentId: 'C1',
  componentKind: 'clamp',
  alongEnu: [1, 0, 0],
  candidates: [{ componentId: 'C1', probability: 0.95 }],
  rate: rateOf(200),
  weather: 'dry',
  rigHash: 'one rig',
  rejected: false,
  ...more,
});

const campaign = (
  findings: readonly ComparedFinding[],
  limit: Limit = { kind: 'limit', limitHz: 12e9 },
  more: Partial<ComparedCampaign> = {},
): ComparedCampaign => ({ findings, limitAt: () => limit, keptOut: [], weather: 'dry', ...more });

const told = (earlier: ComparedCampaign, later: ComparedCampaign) =>
  tellChanges(earlier, later, CHANGE_PARAMETERS).map(({ change, because }) => [change, because.key]);

test.each<[string, number, string]>([
  ['six times the light is grown', 1200, 'grown'],
  ['a sixth of it is faded', 33, 'faded'],
  ['a tenth more is unchanged', 220, 'unchanged'],
  ['half as much again is within what corona does from day to day', 300, 'unchanged'],
])('%s', (_, events, change) => {
  const result = tellChanges(
    campaign([finding('a', [0, 0, 0])]),
    campaign([finding('b', [0.1, 0, 0], { rate: rateOf(events) })]),
    CHANGE_PARAMETERS,
  );
  expect(result).toMatchObject([{ earlierId: 'a', laterId: 'b', change }]);
  expect(result[0].rate?.ratio).toBeCloseTo(events / 200, 9);
});

test('the same rate seen from further away, with a quarter of the events, is unchanged: rates are compared, not counts', () => {
  const near = campaign([finding('a', [0, 0, 0], { rate: rateOf(400, 4e-9) })]);
  const far = campaign([finding('b', [0, 0.1, 0], { rate: rateOf(100, 1e-9) })]);
  expect(told(near, far)).toEqual([['unchanged', 'unchanged']]);
});

test('what was found only now is new where it could have been found then, and not comparable where it could not', () => {
  const now = campaign([finding('b', [0, 0, 0])]);
  expect(told(campaign([]), now)).toEqual([['new', 'new']]);
  expect(told(campaign([], { kind: 'not seen' }), now)).toEqual([['not comparable', 'not seen then']]);
  expect(told(campaign([], { kind: 'limit', limitHz: 1.9e11 }), now)).toEqual([
    ['not comparable', 'too weak for then'],
  ]);
  expect(told(campaign([], { kind: 'unknown' }), now)).toEqual([['not comparable', 'coverage unknown then']]);
});

test('not seen is not gone: only a limit below the earlier rate lets a discharge be gone', () => {
  const then = campaign([finding('a', [0, 0, 0])]);
  expect(told(then, campaign([]))).toEqual([['gone', 'gone']]);
  expect(told(then, campaign([], { kind: 'not seen' }))).toEqual([['not comparable', 'not seen now']]);
  expect(told(then, campaign([], { kind: 'limit', limitHz: 2.5e11 }))).toEqual([
    ['not comparable', 'too weak for now'],
  ]);
  const glint = [{ positionEnuM: [0.5, 0, 0] as const, because: 'sun glint' }];
  expect(told(then, campaign([], { kind: 'limit', limitHz: 12e9 }, { keptOut: glint }))).toEqual([
    ['not comparable', 'kept out now'],
  ]);
});

test('rain against dry, another band, a rejected finding, and a handful of events are not comparable, each for its reason', () => {
  const then = campaign([finding('a', [0, 0, 0])]);
  const now = (more: Partial<ComparedFinding>) => campaign([finding('b', [0, 0, 0], more)]);
  expect(told(then, now({ weather: 'rain' }))).toEqual([['not comparable', 'other weather']]);
  expect(told(then, now({ rate: { ...rateOf(200), bandNm: [230, 280] } }))).toEqual([['not comparable', 'other band']]);
  expect(told(then, now({ rejected: true }))).toEqual([['not comparable', 'rejected in review']]);
  expect(
    told(then, now({ rate: { ...rateOf(10), rateHz: 1.5e11, countingInterval: { lower: 0.5e11, upper: 3.6e11 } } })),
  ).toEqual([['not comparable', 'too uncertain']]);
  expect(told(campaign([]), now({ rejected: true }))).toEqual([]);
});

test('two neighbours on two components are not swapped, though each lies nearer to the other one', () => {
  const on = (componentId: string) => ({ componentId, candidates: [{ componentId, probability: 0.98 }] });
  const earlier = [finding('a1', [0, 0, 0], on('A')), finding('b1', [0.5, 0, 0], on('B'))];
  const later = [finding('a2', [0.3, 0, 0], on('A')), finding('b2', [0.2, 0, 0], on('B'))];
  const pairs = matchFindings(earlier, later, CHANGE_PARAMETERS).map((p) => [earlier[p.earlier].id, later[p.later].id]);
  expect(pairs.sort()).toEqual([
    ['a1', 'a2'],
    ['b1', 'b2'],
  ]);
});

test('a wire may hang a metre lower and still carry the same discharge; a clamp may not', () => {
  const moved = (componentKind: 'conductor' | 'clamp') =>
    matchFindings(
      [finding('a', [0, 0, 0], { componentKind })],
      [finding('b', [0.1, 0.6, -1.4], { componentKind })],
      CHANGE_PARAMETERS,
    ).length;
  expect(moved('conductor')).toBe(1);
  expect(moved('clamp')).toBe(0);
  // Along the wire it stays where it is.
  const along = matchFindings(
    [finding('a', [0, 0, 0], { componentKind: 'conductor' })],
    [finding('b', [2.5, 0, 0], { componentKind: 'conductor' })],
    CHANGE_PARAMETERS,
  );
  expect(along).toHaveLength(0);
});

test('of true pairs whose places differ as their covariances say, 99.9 % pass the gate, seed 5', () => {
  const random = randomFrom(5);
  const [wide, narrow] = [0.2, 0.05];
  let matched = 0;
  for (let i = 0; i < 4000; i++) {
    const at = (sigma: number): Vec3 => [sigma * random.normal(), sigma * random.normal(), sigma * random.normal()];
    // What the hardware itself moves is part of the difference.
    const { levelM, upM } = CHANGE_PARAMETERS.hardwareMovesM;
    const [x, y, z] = at(wide);
    const moved: Vec3 = [x + levelM * random.normal(), y + levelM * random.normal(), z + upM * random.normal()];
    matched += matchFindings(
      [finding('a', at(narrow), { covarianceEnuM2: diagonal3(narrow ** 2, narrow ** 2, narrow ** 2) })],
      [finding('b', moved, { covarianceEnuM2: diagonal3(wide ** 2, wide ** 2, wide ** 2) })],
      CHANGE_PARAMETERS,
    ).length;
  }
  // Mean 3996, sigma 2.0: 4 sigmas either way.
  expect(Math.abs(matched - 3996)).toBeLessThanOrEqual(8);
});

test('discharges that did not change are told grown or faded in no more than one in twenty, seed 12', () => {
  const random = randomFrom(12);
  const sigma = Math.hypot(
    0.04 * Math.SQRT2,
    CHANGE_PARAMETERS.sameRigRelativeSigma,
    CHANGE_PARAMETERS.dayToDayRelativeSigma,
  );
  let below = 0;
  const trials = 600;
  for (let i = 0; i < trials; i++) {
    const mean = 10 ** (1.2 + 1.3 * random.uniform());
    const factor = Math.exp(sigma * random.normal());
    const [n1, n2] = [Math.max(1, random.poisson(mean)), Math.max(1, random.poisson(mean * factor))];
    if (rateChange(rateOf(n1), rateOf(n2), true, CHANGE_PARAMETERS).probability <= 0.05) below++;
  }
  // At most 5 % of 600: 30, sigma 5.3; and not so few that the test could not tell anything.
  expect(below).toBeLessThanOrEqual(30 + 16);
  expect(below).toBeGreaterThan(8);
});

test('with nothing else uncertain the probability is that of the two counts alone', () => {
  const sure = (events: number): PhotonRate => ({ ...rateOf(events), budget: [] });
  const steady = { ...CHANGE_PARAMETERS, dayToDayRelativeSigma: 0 } as unknown as typeof CHANGE_PARAMETERS;
  // SciPy 1.17, binomtest(10, 30, 0.5): symmetric, so that twice one tail is both.
  expect(rateChange(sure(20), sure(10), true, steady).probability).toBeCloseTo(0.0987371, 6);
});

test('with counts beyond all doubt, what is left is the normal law of the systematic factor, out into its tail', () => {
  const many = (events: number): PhotonRate => ({ ...rateOf(1e6), events, rateHz: events * 1e9, budget: [] });
  const sigma = CHANGE_PARAMETERS.dayToDayRelativeSigma;
  for (const [z, tail] of [
    [2, 0.0455],
    [3, 0.0027],
    [4, 6.33e-5],
  ] as const) {
    // Two-sided tails of the normal law from any table; a step falls between two nodes: 1/16 sigma either way is 30 % at 4 sigmas.
    const p = rateChange(many(1e7), many(1e7 * Math.exp(z * sigma)), true, CHANGE_PARAMETERS).probability;
    expect(p / tail, `${z} sigmas`).toBeGreaterThan(0.4);
    expect(p / tail, `${z} sigmas`).toBeLessThan(2);
  }
});

test('flicker that doubles the variance halves the events that count', () => {
  const flickering = (events: number): PhotonRate => ({ ...rateOf(events), budget: [], overdispersion: 2 });
  const steady = { ...CHANGE_PARAMETERS, dayToDayRelativeSigma: 0 } as unknown as typeof CHANGE_PARAMETERS;
  const sure = (events: number): PhotonRate => ({ ...rateOf(events), budget: [] });
  expect(rateChange(flickering(40), flickering(20), true, steady).probability).toBeCloseTo(
    rateChange(sure(20), sure(10), true, steady).probability,
    9,
  );
});

test('a well-known rate at the limit is missed with 5 %, at a tenth of it nearly always', () => {
  const known = (rateHz: number): PhotonRate => ({
    ...rateOf(1e6),
    rateHz,
    interval: { lower: rateHz, upper: rateHz },
  });
  const steady = { ...CHANGE_PARAMETERS, dayToDayRelativeSigma: 0 } as unknown as typeof CHANGE_PARAMETERS;
  expect(chanceOfMissing(known(1e9), 1e9, steady)).toBeCloseTo(0.05, 6);
  expect(chanceOfMissing(known(1e8), 1e9, steady)).toBeGreaterThan(0.99);
  expect(chanceOfMissing(known(4e9), 1e9, steady)).toBeLessThan(1e-6);
  // The blinding one of an invented line, a thousand times the limit.
  expect(chanceOfMissing(known(1e13), 1e9, steady)).toBeLessThan(1e-12);
});

test('adjusted probabilities of the fifteen of Benjamini & Hochberg 1995: four are told at 0.05, as in their example', () => {
  // Their table of a trial of rt-PA (from memory; R's p.adjust gives the same).
  const p = [
    0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.324, 0.4262, 0.5719, 0.6528, 0.759, 1,
  ];
  const adjusted = adjustedProbabilities(p);
  expect(adjusted.filter((q) => q <= 0.05)).toHaveLength(4);
  expect(adjusted[3]).toBeCloseTo((0.0095 * 15) / 4, 9);
  expect(adjustedProbabilities([0.04])).toEqual([0.04]);
  expect(adjustedProbabilities([])).toEqual([]);
});

test('when nothing changed among many findings, hardly ever is one told as changed, seed 77', () => {
  const random = randomFrom(77);
  let campaignsWithFalse = 0;
  for (let trial = 0; trial < 40; trial++) {
    const place = (i: number): Vec3 => [10 * i, 0, 0];
    const one = (i: number) => ({ componentId: `C${i}`, candidates: [{ componentId: `C${i}`, probability: 1 }] });
    const means = Array.from({ length: 25 }, () => 10 ** (1.3 + random.uniform()));
    const year = (name: string) =>
      campaign(
        means.map((mean, i) =>
          finding(`${name}${i}`, place(i), {
            ...one(i),
            rate: rateOf(Math.max(1, random.poisson(mean * Math.exp(0.2 * random.normal())))),
          }),
        ),
      );
    const result = tellChanges(year('a'), year('b'), CHANGE_PARAMETERS);
    expect(result).toHaveLength(25);
    if (result.some(({ change }) => change === 'grown' || change === 'faded')) campaignsWithFalse++;
  }
  // At most 5 % of 40 are expected: 2; seven or more would have a chance of 0.3 %.
  expect(campaignsWithFalse).toBeLessThan(7);
});
