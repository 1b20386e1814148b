import { expect, test } from 'vitest';
import { randomFrom } from '../maths/random.ts';
import { findSightings } from './findSightings.ts';
import { type FlyPastSource, flyPast, LINE_CORRIDOR } from './flyPast.fixture.ts';

const THRESHOLD = 18.8;

function found(seed: number, sources: readonly FlyPastSource[], sunEnu?: readonly [number, number, number]) {
  const flown = flyPast(randomFrom(seed), { frames: 260, backgroundPerFrame: 5, sources });
  const { sightings } = findSightings({
    ...flown,
    corridor: LINE_CORRIDOR,
    falseAlarmsPerHour: 1,
    seed,
    sunEnu,
    atLeastRatio: THRESHOLD,
  });
  return { sightings, believed: sightings.filter(({ suspicions }) => suspicions.length === 0) };
}

test('lightning that lights the whole picture for two frames makes no discharge, and one beside it is still found, seed 61', () => {
  // Light from everywhere: 300 events a frame over some 16 m, in two strokes of two frames.
  const stroke = (from: number) =>
    ({ atEnuM: [36, 40, 0], sizeM: 8, perFrame: 300, shines: [from, from + 1] }) as const;
  const discharge = { atEnuM: [38, 40, 1], perFrame: 0.3 } as const;
  expect(found(61, [stroke(110), stroke(150)]).believed).toEqual([]);
  const { believed } = found(61, [stroke(110), stroke(150), discharge]);
  expect(believed.length).toBe(1);
  const [east, , up] = believed[0].seedEnuM;
  expect(Math.hypot(east - 38, up - 1)).toBeLessThan(0.2); // 26 events of 36 mm, and a loose crossing
});

test('a short flash of light from one place while the sun shines is kept as a glint, and in the dark believed, seed 62', () => {
  const flash = { atEnuM: [38, 40, 1], perFrame: 2.5, shines: [120, 131] } as const;
  const sunny = found(62, [flash], [0.5, -0.6, 0.6]);
  expect(sunny.believed).toEqual([]);
  expect(sunny.sightings.map(({ suspicions }) => suspicions)).toEqual([['sun glint']]);
  expect(found(62, [flash]).believed.length).toBe(1);
});

test('a lamp far behind the line is kept and not believed, seed 63', () => {
  const { sightings, believed } = found(63, [{ atEnuM: [38, 120, -6], perFrame: 2 }]);
  expect(believed).toEqual([]);
  expect(sightings.length).toBe(1);
  expect(sightings[0].suspicions).toContain('off the line');
});
