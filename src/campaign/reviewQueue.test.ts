import { expect, test } from 'vitest';
import type { DischargeRecord, FindingRecord } from './records.ts';
import { neighboursOf, reviewQueue } from './reviewQueue.ts';
import { resultOf } from './smallCampaign.testdata.ts';

const [finding] = resultOf('west').findings;
const [discharge] = resultOf('west').discharges;

function campaign(list: readonly (Partial<FindingRecord> & { id: string; eastM?: number; priority?: string })[]) {
  const findings = list.map(({ eastM: _, priority, ...own }) => ({
    ...finding,
    componentProbability: 1,
    ...own,
    grade: { ...finding.grade, ...(priority ? { priority: priority as never } : {}) },
  }));
  const discharges = new Map<string, DischargeRecord>(
    list.map(({ id, eastM = 0 }, i) => [id, { ...discharge, id, positionEnuM: [eastM + 100 * i, 0, 30] }]),
  );
  return { findings, discharges };
}

test('an urgent finding comes before a doubtful one of less urgency, and doubt decides between equals', () => {
  const { findings, discharges } = campaign([
    { id: 'watch, doubtful', priority: 'watch', componentProbability: 0.3 },
    { id: 'soon, sure', priority: 'plan soon' },
    { id: 'soon, doubtful', priority: 'plan soon', componentProbability: 0.6 },
    { id: 'now', priority: 'act now' },
  ]);
  expect(reviewQueue(findings, discharges).map(({ id }) => id)).toEqual([
    'now',
    'soon, doubtful',
    'soon, sure',
    'watch, doubtful',
  ]);
});

test('what was decided, and what is no finding by the rules, asks for nobody', () => {
  const { findings, discharges } = campaign([
    { id: 'a', decision: 'confirmed' },
    { id: 'b', priority: 'not a finding' },
    { id: 'c' },
  ]);
  expect(reviewQueue(findings, discharges).map(({ id }) => id)).toEqual(['c']);
});

test('two findings within three sigma of each other are named as perhaps one, others are not', () => {
  // East sigma 0.2 m each: three sigma of the difference are 0.849 m.
  const near = campaign([{ id: 'a' }, { id: 'b', eastM: -100 + 0.8 }]);
  expect(neighboursOf(near.findings, near.discharges).get('a')).toEqual([
    { id: 'b', distanceM: expect.closeTo(0.8, 9), sigmas: expect.closeTo(0.8 / Math.hypot(0.2, 0.2), 2) },
  ]);
  expect(reviewQueue(near.findings, near.discharges)[0].reasons).toContain('perhaps the same as another');
  const far = campaign([{ id: 'a' }, { id: 'b', eastM: -100 + 0.9 }]);
  expect(neighboursOf(far.findings, far.discharges).get('a')).toEqual([]);
});
