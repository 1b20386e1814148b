import { expect, test } from 'vitest';
import { randomFrom } from '../maths/random.ts';
import { distance, type Vec3 } from '../maths/vec3.ts';
import { findSightings } from './findSightings.ts';
import { type FlyPastSource, flyPast, LINE_CORRIDOR } from './flyPast.fixture.ts';

const found = (seed: number, sources: FlyPastSource[]) =>
  findSightings({
    ...flyPast(randomFrom(seed), { frames: 200, backgroundPerFrame: 5, sources }),
    corridor: LINE_CORRIDOR,
    falseAlarmsPerHour: 1,
    seed,
    atLeastRatio: 18.8,
  }).sightings;

test.each([
  ['one disc of a string apart', [30, 40, 1], [30, 40, 1.146], true],
  ['along the flight, within the smear', [30, 40, 1], [30.15, 40, 1], true],
  ['0.4 m along the flight', [30, 40, 1], [30.4, 40, 1], false],
] as const)(
  'two sources %s, of one event a frame each, are two and at their places, seed 51',
  (_, a, b, atFirstOne) => {
    const sightings = found(51, [
      { atEnuM: a, perFrame: 1 },
      { atEnuM: b, perFrame: 1 },
    ]);
    expect(sightings.length).toBe(2);
    for (const place of [a, b] as readonly Vec3[]) {
      const nearest = Math.min(
        // Range is left aside: 85 events at a crossing angle of 35 degrees leave 5 cm of it open.
        ...sightings.map(({ seedEnuM: [e, , u] }) => distance([e, 40, u], place)),
      );
      // 1.3 px of 25 mm over the root of 85, and what sharing costs: 12 mm on each axis; three sigmas.
      expect(nearest).toBeLessThan(0.05);
    }
    for (const sighting of sightings) {
      expect(sighting.suspicions).toEqual([]);
      if (atFirstOne) expect(sighting.oneOfTwo?.lnEvidence).toBeGreaterThan(5);
    }
  },
);

test('an extended glow stays one, with its width; a point has none, seeds 52 to 54', () => {
  for (const seed of [52, 53, 54]) {
    const [glow, ...more] = found(seed, [{ atEnuM: [30, 40, 1], perFrame: 3, sizeM: 0.08 }]);
    expect(more).toEqual([]);
    expect(glow.oneOfTwo).toBeUndefined();
    // The width rests on the 240 events across the motion alone: 1 / root(2 x 240) is 4.6 %, and the wide rim takes some.
    expect(Math.abs((glow.extent?.sigmaM ?? 0) / 0.08 - 1)).toBeLessThan(0.2);
    const [point, ...others] = found(seed + 100, [{ atEnuM: [30, 40, 1], perFrame: 3 }]);
    expect(others).toEqual([]);
    expect(point.extent).toBeUndefined();
    expect(point.oneOfTwo).toBeUndefined();
  }
});

test('a lamp on its way is one suspicion, not one for each stretch of it, seeds 55 and 56', () => {
  const climbing = found(55, [{ atEnuM: [38, 40, -4], velocityEnuMps: [0, 0, 2], perFrame: 1.5 }]);
  expect(climbing.filter((sighting) => sighting.suspicions.includes('moves in space')).length).toBe(1);
  const onRoad = found(56, [{ atEnuM: [25, 60, -10], velocityEnuMps: [6, 3, 0], perFrame: 2 }]);
  expect(onRoad.length).toBe(1);
  expect(onRoad[0].suspicions.length).toBeGreaterThan(0);
});
