import { expect, test } from 'vitest';
import type { FindingRow } from '../../server/answers.ts';
import { emptyFilter, passes } from './Filter.ts';
import { sorted } from './sortFindings.ts';

const row = (id: string, over: Partial<FindingRow>): FindingRow =>
  ({
    id,
    priority: 'watch',
    decision: 'open',
    componentId: null,
    componentKind: null,
    structureIds: [],
    comment: '',
    queuePlace: null,
    ...over,
  }) as FindingRow;
const rows = [
  row('a', { componentId: 'V10-clamp', queuePlace: 3, priority: 'watch' }),
  row('b', { componentId: 'V9-clamp', queuePlace: null, priority: 'act now', comment: 'seen from the north only' }),
  row('c', { componentId: null, queuePlace: 1, priority: 'plan soon', decision: 'rejected' }),
];
const labels = new Map([
  ['a', 'F1'],
  ['b', 'F2'],
  ['c', 'F10'],
]);
const ids = (list: readonly FindingRow[]) => list.map((each) => each.id).join('');

test('what needs no human stands at the end of the queue, whichever way it is sorted', () => {
  expect(ids(sorted(rows, { column: 'queue', descending: false }, labels))).toBe('cab');
  expect(ids(sorted(rows, { column: 'queue', descending: true }, labels))).toBe('acb');
});

test('numbers inside names count as numbers, and urgency comes before the alphabet', () => {
  expect(ids(sorted(rows, { column: 'component', descending: false }, labels))).toBe('bac');
  expect(ids(sorted(rows, { column: 'number', descending: true }, labels))).toBe('cba');
  expect(ids(sorted(rows, { column: 'priority', descending: false }, labels))).toBe('bca');
});

test('a filter keeps a row only if every word is in what the row shows', () => {
  const kept = (words: string) => rows.filter((each) => passes(each, labels.get(each.id)!, { ...emptyFilter, words }));
  expect(ids(kept('v9 NORTH'))).toBe('b');
  expect(ids(kept('v9 south'))).toBe('');
  expect(ids(kept('f1'))).toBe('ac');
  expect(ids(rows.filter((each) => passes(each, '', { ...emptyFilter, decision: 'open', queueOnly: true })))).toBe('a');
});
