import { expect, test } from 'vitest';
import { diagonal3 } from '../../maths/mat3.ts';
import type { Vec3 } from '../../maths/vec3.ts';
import { scoreFindings, summariseScores } from './scoreFindings.ts';

const truth = (id: string, positionEnuM: Vec3, componentId = 'A') => ({
  id,
  positionEnuM,
  componentId,
  photonRateHz: 1e6,
  events: 40,
  bestPassEventsPerFrame: 0.4,
  bestPassEvents: 40,
});
const found = (id: string, positionEnuM: Vec3, componentId = 'A') => ({
  id,
  positionEnuM,
  covarianceEnuM2: diagonal3(0.01, 0.01, 0.01),
  componentId,
  componentProbability: 0.9,
  probabilityOf: () => 0.9,
  rateHz: 1.1e6,
  rateInterval: { lower: 0.9e6, upper: 1.3e6 },
});

test('each finding explains one true discharge at most, the nearest first', () => {
  const score = scoreFindings(
    [truth('t1', [0, 0, 0]), truth('t2', [0.5, 0, 0])],
    [found('f1', [0.1, 0, 0]), found('f2', [0.2, 0, 0])],
  );
  expect(score.matches.map((m) => [m.truth.id, m.found.id])).toEqual([
    ['t1', 'f1'],
    ['t2', 'f2'],
  ]);
});

test('a finding with no true discharge within a metre is a false alarm, and a discharge without finding is missed', () => {
  const score = scoreFindings([truth('t1', [0, 0, 0])], [found('f1', [1.2, 0, 0])]);
  expect(score.matches).toHaveLength(0);
  expect(score.missed.map((t) => t.id)).toEqual(['t1']);
  expect(score.falseAlarms.map((f) => f.id)).toEqual(['f1']);
});

test('an error of 2.7 sigma lies inside the 95 % ellipsoid and one of 2.9 sigma outside (chi-square table: 2.795)', () => {
  const inside = (sigmas: number) =>
    scoreFindings([truth('t', [0, 0, 0])], [found('f', [0, sigmas * 0.1, 0])]).matches[0].insideEllipsoid95;
  expect([inside(2.7), inside(2.9)]).toEqual([true, false]);
});

test('several campaigns are summed before shares are taken', () => {
  const a = scoreFindings([truth('t1', [0, 0, 0])], [found('f1', [0.1, 0, 0])]);
  const b = scoreFindings([truth('t1', [0, 0, 0]), truth('t2', [9, 9, 9])], [found('f1', [0.3, 0, 0], 'B')]);
  expect(summariseScores([a, b])).toMatchObject({
    truths: 3,
    found: 2,
    falseAlarms: 0,
    attributedRight: 1,
    medianErrorM: 0.2,
  });
});
