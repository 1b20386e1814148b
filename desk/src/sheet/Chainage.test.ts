import { expect, test } from 'vitest';
import { chainageOf } from './Chainage.ts';

const bend = chainageOf([
  [100, 50, 8],
  [100, 350, 9], // 300 m to the north
  [500, 350, 11], // then 400 m to the east
]);

test('a point beside a leg is located by its foot on that leg, to the right counted positive', () => {
  expect(bend.lengthM).toBe(700);
  expect(bend.locate([112, 170, 30])).toEqual([120, 12]); // going north, east is to the right
  expect(bend.locate([340, 343, 30])).toEqual([540, 7]); // going east, south is to the right
  expect(bend.locate([340, 361, 30])).toEqual([540, -11]);
});

test('before the first structure and behind the last the way goes on straight', () => {
  expect(bend.locate([103, 20, 0])).toEqual([-30, 3]);
  expect(bend.locate([525, 345, 0])).toEqual([725, 5]);
});

test('one structure alone makes a frame of its own: east along, south across', () => {
  expect(chainageOf([[10, 20, 0]]).locate([13, 25, 4])).toEqual([3, -5]);
});
