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
