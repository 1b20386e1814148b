import { expect, test } from 'vitest';
import { randomFrom } from '../maths/random.ts';
import { findSightings } from './findSightings.ts';
import { type FlyPastSource, flyPast, LINE_CORRIDOR } from './flyPast.fixture.ts';
import { shareNearSun } from './sunNearView.ts';

const THRESHOLD = 18.8;

function found(
  seed: number,
  sources: readonly FlyPastSource[],
  sunEnu: readonly [number, number, number] | null = null,
) {
  const flown = flyPast(randomFrom(seed), { frames: 260, backgroundPerFrame: 5, sources });
  const { sightings } = findSightings({
    ...flown,
    corridor: LINE_CORRIDOR,
    falseAlarmsPerHour: 1,
    seed,
    sunAt: () => sunEnu,
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

test('what shines only while it stands beside the sun is kept and not believed, a discharge seen before and after is, seed 64', () => {
  // The camera looks north and has the sun there, 1.4 degrees up; it passes the place after 127 frames, within four degrees of the sun for 18.
  const sun = [0, 0.9997, 0.025] as const;
  const scattered = { atEnuM: [38, 40, 1], perFrame: 1, shines: [119, 135] } as const;
  const { sightings, believed } = found(64, [scattered], sun);
  expect(believed).toEqual([]);
  expect(sightings.flatMap(({ suspicions }) => suspicions)).toContain('sun near the view');
  expect(found(64, [{ ...scattered, shines: undefined }], sun).believed.length).toBe(1);
});

test('the disc of the sun itself, a fixed direction while the line moves past, is told as the sun, seed 65', () => {
  const sun = [0.02, 0.9996, 0.02] as const;
  // 20 km away it moves as the sun does.
  const disc = { atEnuM: [400, 20_000, 400], perFrame: 1 } as const;
  const { sightings, believed } = found(65, [disc], sun);
  expect(believed).toEqual([]);
  expect(sightings.map(({ suspicions }) => suspicions)).toEqual([['sun near the view']]);
});

test('the sun is near the view up to ten degrees beyond the border of the picture', () => {
  const { poses, lens } = flyPast(randomFrom(66), { frames: 100, backgroundPerFrame: 0, sources: [] });
  // The picture reaches 17.7 degrees to each side of north, and sways by one.
  const at = (azimuthDeg: number) => {
    const azimuth = (azimuthDeg * Math.PI) / 180;
    return shareNearSun(poses, lens, () => [Math.sin(azimuth), Math.cos(azimuth), 0]);
  };
  expect([at(0), at(25), at(30), at(180)]).toEqual([1, 1, 0, 0]);
  expect(shareNearSun(poses, lens, () => null)).toBe(0);
});
