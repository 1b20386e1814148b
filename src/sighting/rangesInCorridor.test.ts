import { expect, test } from 'vitest';
import { randomFrom } from '../maths/random.ts';
import { add, scale, subtract, unit, type Vec3 } from '../maths/vec3.ts';
import { distanceFromCorridorM, rangesInCorridor, tubesOf } from './rangesInCorridor.ts';

test('the ranges found bound every place on the ray that is within the radius of a segment, seed 31', () => {
  const random = randomFrom(31);
  const point = (size: number): Vec3 => [
    size * (random.uniform() - 0.5),
    size * (random.uniform() - 0.5),
    size * (random.uniform() - 0.5),
  ];
  let entered = 0;
  for (let n = 0; n < 300; n++) {
    const corridor = {
      segments: Array.from({ length: 3 }, () => ({ fromEnuM: point(60), toEnuM: point(60) })),
      radiusM: 4,
      nearestM: 5,
      farthestM: 90,
    };
    const origin = point(120);
    const direction = unit(subtract(point(60), origin));
    const inside: number[] = [];
    for (let r = 5; r <= 90; r += 0.25)
      if (distanceFromCorridorM(add(origin, scale(direction, r)), corridor) < 4) inside.push(r);
    const ranges = rangesInCorridor(origin, direction, tubesOf(corridor));
    if (inside.length === 0) continue;
    entered++;
    expect(ranges).not.toBeNull();
    // Flat ends one radius beyond hold more than round ones, never less.
    expect(ranges!.nearM).toBeLessThanOrEqual(inside[0] + 1e-9);
    expect(ranges!.farM).toBeGreaterThanOrEqual(inside[inside.length - 1] - 1e-9);
  }
  expect(entered).toBeGreaterThan(60);
});

test('a ray that passes the line at more than the radius has no ranges', () => {
  const corridor = {
    segments: [{ fromEnuM: [-50, 30, 10] as const, toEnuM: [50, 30, 10] as const }],
    radiusM: 3,
    nearestM: 1,
    farthestM: 100,
  };
  expect(rangesInCorridor([0, 0, 0], [0, 1, 0], tubesOf(corridor))).toBeNull();
  const through = rangesInCorridor([0, 0, 10], [0, 1, 0], tubesOf(corridor))!;
  expect(through.nearM).toBeCloseTo(27, 9);
  expect(through.farM).toBeCloseTo(33, 9);
});
