import { expect, test } from 'vitest';
import { randomFrom } from '../maths/random.ts';
import { ROOM_CAMERA, renderRoom, spotsAtRandom, type TrueSpot } from './darkRoom.fixture.ts';
import { EVENT_FLAGS } from './PhotonEvents.ts';
import { PhotonEventsBuilder } from './PhotonEventsBuilder.ts';
import { startPhotonFinder } from './photonFinder.ts';

test.each([
  ['at rest', 0],
  ['drawn out over 3 px by motion', 3],
])('a glow %s whose core is at the limit of the sensor keeps its charge, seed 71', (_, wayPx) => {
  const random = randomFrom(71);
  const finder = startPhotonFinder(ROOM_CAMERA);
  finder.learnFrom(Array.from({ length: 64 }, () => renderRoom(random, [])));
  const events = new PhotonEventsBuilder();
  // 60 photons of 120 DN each on one place: a peak of 2.7 times the sensor's limit where it rests.
  const spots: TrueSpot[] = Array.from({ length: 60 }, (_, i) => ({
    xPx: 80.3 + wayPx * ((i + 0.5) / 60 - 0.5),
    yPx: 60.2,
    charge: 120,
  }));
  const frames = 20;
  for (let k = 0; k < frames; k++)
    finder.addInto(events, renderRoom(random, spots), { frame: k, tNs: k * 20e6, gain: 1 });
  const found = events.finish();
  expect(found.count).toBe(frames);
  const mean = found.charge.reduce((sum, q) => sum + q, 0) / frames / (60 * 120);
  for (const flags of found.flags) expect(flags & EVENT_FLAGS.saturated).not.toBe(0);
  // Most of the light is hidden; the wings, noise and rounding of 1.2 DN, give it back to a few hundredths.
  expect(Math.abs(mean - 1)).toBeLessThan(0.03);
});

test.each([
  [5, 0.025],
  [60, 0.01],
])(
  'a glow of %i photons a frame that runs 12 px a frame keeps its charge, its afterglow trailing behind it, seed 73',
  (photons, within) => {
    const random = randomFrom(73);
    let before: TrueSpot[] = [];
    const next = (spots: TrueSpot[]) => {
      const frame = renderRoom(random, [...spots, ...before.map((spot) => ({ ...spot, charge: 0.05 * spot.charge }))]);
      before = spots;
      return frame;
    };
    const finder = startPhotonFinder(ROOM_CAMERA);
    finder.learnFrom(Array.from({ length: 64 }, () => next([])));
    // The share of the afterglow is learned from single photons.
    const earlier = new PhotonEventsBuilder();
    for (let k = 0; k < 300; k++)
      finder.addInto(earlier, next(spotsAtRandom(random, 1.5, 150, 8)), { frame: k, tNs: k * 20e6, gain: 1 });
    const events = new PhotonEventsBuilder();
    let charge = 0;
    for (let k = 300; k < 500; k++) {
      const leftPx = 20 + 12 * (k % 8);
      const spots = Array.from({ length: photons }, () => ({
        xPx: leftPx + 12 * random.uniform() + 0.9 * random.normal(),
        yPx: 60.2 + 0.9 * random.normal(),
        charge: 120,
      }));
      charge += spots.length * 120;
      finder.addInto(events, next(spots), { frame: k, tNs: k * 20e6, gain: 1 });
    }
    const { count, flags, charge: found } = events.finish();
    let sum = 0;
    for (let i = 0; i < count; i++) if ((flags[i] & EVENT_FLAGS.afterglow) === 0) sum += found[i];
    // Splitting leaves 2 % of the light between the spots of five; the afterglow alone would be 5 % too much.
    expect(Math.abs(sum / charge - 1)).toBeLessThan(within);
  },
);

test('the share of light that the phosphor gives off again is measured, though each afterglow is too faint to be found, seed 72', () => {
  const random = randomFrom(72);
  const share = 0.06;
  let before: TrueSpot[] = [];
  const next = (photons: number) => {
    const spots = spotsAtRandom(random, photons, 150, 8);
    const frame = renderRoom(random, [...spots, ...before.map((spot) => ({ ...spot, charge: share * spot.charge }))]);
    before = spots;
    return frame;
  };
  const finder = startPhotonFinder(ROOM_CAMERA);
  finder.learnFrom(Array.from({ length: 64 }, () => next(0)));
  const events = new PhotonEventsBuilder();
  for (let k = 0; k < 600; k++) finder.addInto(events, next(1.5), { frame: k, tNs: k * 20e6, gain: 1 });
  // 800 spots of 170 DN (root mean square) in a filtered noise of 6 DN: 0.0012; four of that.
  expect(Math.abs(finder.statistics().afterglowShare - share)).toBeLessThan(0.005);
});
