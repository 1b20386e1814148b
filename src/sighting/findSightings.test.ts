import { expect, test } from 'vitest';
import { randomFrom } from '../maths/random.ts';
import { distance } from '../maths/vec3.ts';
import { findSightings } from './findSightings.ts';
import { type FlownPast, type FlyPast, flyPast, LINE_CORRIDOR } from './flyPast.fixture.ts';

const search = (flown: FlownPast, options: { sunAt?: () => readonly [number, number, number] } = {}) =>
  findSightings({ ...flown, corridor: LINE_CORRIDOR, falseAlarmsPerHour: 1, seed: 1, scrambles: 3, ...options });

const fly = (seed: number, past: Partial<FlyPast>) =>
  flyPast(randomFrom(seed), { frames: 250, backgroundPerFrame: 5, sources: [], ...past });

test('a source of one event in seven frames is found within its pass, one without any is not, seeds 1 to 8', () => {
  let found = 0;
  for (let seed = 1; seed <= 8; seed++) {
    const atEnuM = [37 + 0.5 * seed, 39 + 0.3 * seed, 2 - 0.4 * seed] as const;
    const { sightings } = search(fly(seed, { sources: [{ atEnuM, perFrame: 0.15 }] }));
    const clear = sightings.filter((sighting) => sighting.suspicions.length === 0);
    if (clear.some((sighting) => distance(sighting.seedEnuM, atEnuM) < 1)) found++;
    expect(clear.length).toBeLessThanOrEqual(1);
    expect(search(fly(seed + 100, {})).sightings).toEqual([]);
  }
  // 12.8 events expected; 6 or fewer, too few to be found, come in 2.6 % of passes: two of eight misses happen in 2 %.
  expect(found).toBeGreaterThanOrEqual(7);
});

test('a weak source 0.6 m from one of a thousand times its strength is found, and no ghost between them, seed 11', () => {
  const strong = [38, 40, 1] as const;
  const weak = [38.6, 39.8, 0.9] as const;
  const { sightings } = search(
    fly(11, {
      sources: [
        { atEnuM: strong, perFrame: 12 },
        { atEnuM: weak, perFrame: 0.3 },
      ],
    }),
  );
  expect(sightings.length).toBe(2);
  expect(Math.min(...sightings.map((sighting) => distance(sighting.seedEnuM, strong)))).toBeLessThan(0.05);
  expect(Math.min(...sightings.map((sighting) => distance(sighting.seedEnuM, weak)))).toBeLessThan(0.4);
});

test('a sighting counts its events: memberships add up to those that the source gave, seed 12', () => {
  const flown = fly(12, { sources: [{ atEnuM: [36, 41, -1], perFrame: 1 }] });
  const [sighting, ...others] = search(flown).sightings;
  expect(others).toEqual([]);
  const given = flown.sourceOf.filter((source) => source === 0).length;
  const counted = sighting.membership.reduce((sum, m) => sum + m, 0);
  // 4 % of the model lies in a rim that this source does not have; background in the aperture is a tenth of an event.
  expect(Math.abs(counted - given)).toBeLessThan(0.05 * given);
  expect(sighting.expectedBackground).toBeLessThan(1);
  expect(sighting.falseAlarmsPerHour).toBeLessThan(1e-6);
});

test('what stays in the image while the line moves past is flagged as such, seed 13', () => {
  const flown = fly(13, { frames: 300 });
  // A defect of the camera: every fourth background event falls on one place.
  for (let k = 0; k < flown.events.count; k += 25) {
    flown.events.xPx[k] = 211.3;
    flown.events.yPx[k] = 147.8;
    redirect(flown, k);
  }
  const { sightings } = search(flown);
  expect(sightings.map((sighting) => sighting.suspicions)).toEqual([['fixed in the image']]);
});

test('a light that keeps its direction while the sun shines is a glint, seed 14', () => {
  // 40 km away: no parallax over the pass.
  const glint = { atEnuM: [4000, 40_000, 900], perFrame: 1, shines: [60, 150] } as const;
  const { sightings } = search(fly(14, { sources: [glint] }), { sunAt: () => [0.6, -0.6, 0.5] });
  expect(sightings.length).toBeGreaterThan(0);
  for (const sighting of sightings) expect(sighting.suspicions).toContain('sun glint');
});

test('a lamp that climbs beside the line is found and said to move, seed 15', () => {
  const lamp = { atEnuM: [38, 40, -4], velocityEnuMps: [0, 0, 2], perFrame: 1.5 } as const;
  const { sightings } = search(fly(15, { sources: [lamp] }));
  expect(sightings.length).toBeGreaterThan(0);
  for (const sighting of sightings) expect(sighting.suspicions.length).toBeGreaterThan(0);
  expect(sightings.some((sighting) => sighting.suspicions.includes('moves in space'))).toBe(true);
});

test('a burst within one frame is a flash, not a discharge, seed 16', () => {
  const flash = { atEnuM: [38, 40, 1], perFrame: 30, shines: [130, 130] } as const;
  const { sightings } = search(fly(16, { sources: [flash] }));
  expect(sightings.length).toBe(1);
  // Rays of one frame do not cross: its range is open, so it may well be said to lie off the line, too.
  expect(sightings[0].suspicions).toContain('single bright flash');
});

test('a camera at rest finds a source by its direction, though no range can be told, seed 17', () => {
  const flown = fly(17, { frames: 300, speedMps: 0, sources: [{ atEnuM: [2, 40, 3], perFrame: 0.12 }] });
  const { sightings } = search(flown);
  expect(sightings.length).toBe(1);
  const [east, north, up] = sightings[0].seedEnuM;
  expect(Math.hypot(east / north - 2 / 40, up / north - 3 / 40)).toBeLessThan(0.002); // 2 px
  expect(sightings[0].suspicions).toEqual([]);
});

test('the same flight and seed give the same sightings, and the order of sources is that of time, seed 18', () => {
  const flown = fly(18, {
    frames: 400,
    sources: [
      { atEnuM: [75, 40, 1], perFrame: 1 },
      { atEnuM: [30, 38, 2], perFrame: 2 },
    ],
  });
  const first = search(flown);
  expect(search(flown)).toEqual(first);
  expect(first.sightings.map((sighting) => Math.round(sighting.seedEnuM[0]))).toEqual([30, 75]);
});

/** Gives a moved event the ray of its new pixel (lens without distortion). */
function redirect(flown: FlownPast, k: number): void {
  const { lens, poses, rays, events } = flown;
  const m = poses.uvFromEnu.subarray(9 * events.frame[k], 9 * events.frame[k] + 9);
  const [x, y] = [(events.xPx[k] - lens.cxPx) / lens.fxPx, (events.yPx[k] - lens.cyPx) / lens.fyPx];
  const length = Math.hypot(x, y, 1);
  for (let c = 0; c < 3; c++) rays.directionEnu[3 * k + c] = (m[c] * x + m[3 + c] * y + m[6 + c]) / length;
}
