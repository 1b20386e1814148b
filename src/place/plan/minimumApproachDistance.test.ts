import { expect, test } from 'vitest';
import { approachDistances, oshaDistanceM } from './minimumApproachDistance.ts';

test.each([
  [121, 1.13],
  [145, 1.3],
  [169, 1.46],
  [242, 2.01],
  [362, 3.41],
  [420, 4.25],
  [550, 5.07],
  [800, 6.88],
])('at %i kV the formula gives the %f m of 29 CFR 1910.269, table R-7', (kv, tableM) => {
  expect(Math.abs(oshaDistanceM(kv) - tableM)).toBeLessThan(0.0101); // the table is rounded, upwards in places, to 0.01 m
});

test('a voltage inside a range keeps the distance of the upper end of the range', () => {
  const of = (kv: number) => approachDistances(kv).find((d) => d.publication.startsWith('OSHA'))?.distanceM;
  expect(of(220)).toBe(oshaDistanceM(242));
  expect(of(380)).toBe(oshaDistanceM(420));
});

test('a 380 kV line stands at 4 m in EN 50110-1 and at 5 m in DIN VDE 0105-100, and the largest distance comes first', () => {
  const all = approachDistances(380);
  expect(all.find((d) => d.publication.startsWith('EN 50110-1'))?.distanceM).toBe(4);
  expect(all[0]).toMatchObject({ publication: 'DIN VDE 0105-100', distanceM: 5 });
});

test('between two rows of EN 50110-1 the row above counts, and beyond its last there is none', () => {
  const of = (kv: number) => approachDistances(kv).find((d) => d.publication.startsWith('EN'))?.distanceM;
  expect(of(400)).toBe(6.1);
  expect(of(765)).toBeUndefined();
});
