import { expect, test } from 'vitest';
import { randomFrom } from '../../maths/random.ts';
import { distance } from '../../maths/vec3.ts';
import { findSightings } from '../../sighting/findSightings.ts';
import { flyPast, LINE_CORRIDOR } from '../../sighting/flyPast.fixture.ts';
import { eventsForDetection } from './eventsForDetection.ts';

test('the number of events that is said to be found with 95 % is found in most fly-pasts, seeds 1 to 20', () => {
  const threshold = 18.8;
  const framesInView = 85; // 25.6 m at 15 m/s and 50 frames a second
  const needed = eventsForDetection({
    threshold,
    framesInView,
    backgroundPerPx: 5 / (640 * 512),
    sigmaPx: 0.9,
    exposureS: 0.018,
    frameRateHz: 50,
    crossingPx: 640,
  });
  let found = 0;
  for (let seed = 1; seed <= 20; seed++) {
    const atEnuM = [28 + 0.2 * seed, 40, 1] as const;
    const flown = flyPast(randomFrom(seed), {
      frames: 180,
      backgroundPerFrame: 5,
      sources: [{ atEnuM, perFrame: needed / framesInView }],
    });
    const { sightings } = findSightings({
      ...flown,
      corridor: LINE_CORRIDOR,
      falseAlarmsPerHour: 1,
      seed,
      atLeastRatio: threshold,
    });
    if (sightings.some((sighting) => distance(sighting.seedEnuM, atEnuM) < 2)) found++;
  }
  // 19 of 20 at 95 %; 16 or fewer happen in 1.6 % there. With half the events about 9 of 20 are found.
  expect(found).toBeGreaterThanOrEqual(17);
});

test('twice the background, a longer pass or a lossy finder need more events', () => {
  const at = (change: object) =>
    eventsForDetection({
      threshold: 19,
      framesInView: 100,
      backgroundPerPx: 1.5e-5,
      sigmaPx: 0.9,
      exposureS: 0.018,
      frameRateHz: 50,
      ...change,
    });
  expect(at({ backgroundPerPx: 3e-5 })).toBeGreaterThan(at({}));
  expect(at({ framesInView: 300 })).toBeGreaterThan(at({}));
  expect(at({ finderEfficiency: 0.8 })).toBeCloseTo(at({}) / 0.8, 6);
});

test('light in bunches needs more events than steady light, and bunches of one need as many', () => {
  const at = (bunch: number) =>
    eventsForDetection({
      threshold: 19,
      framesInView: 100,
      backgroundPerPx: 1.5e-5,
      sigmaPx: 0.9,
      exposureS: 0.018,
      frameRateHz: 50,
      bunch,
    });
  expect(at(1)).toBeGreaterThan(8);
  expect(at(1.000001)).toBeCloseTo(at(1), 3);
  // Geometric bunches of mean m have a variance of 2 m - 1 times Poisson's; 5 % from below at 3 events for each bunch.
  expect(at(2) / at(1)).toBeGreaterThan(1.1);
  expect(at(4) / at(2)).toBeGreaterThan(1.1);
});

test('on one half-wave of mains in step with 18 ms exposures a quarter more events are needed; 2 ms find no strength of light in every pass', () => {
  const at = (change: object) =>
    eventsForDetection({
      threshold: 19,
      framesInView: 100,
      backgroundPerPx: 1.5e-5,
      sigmaPx: 0.9,
      exposureS: 0.018,
      frameRateHz: 50,
      ...change,
    });
  // The gap of 2 ms takes 40 % of the light at the worst phase, none at most.
  expect(at({ mainsHz: 50 }) / at({})).toBeGreaterThan(1.1);
  expect(at({ mainsHz: 50 }) / at({})).toBeLessThan(1.4);
  expect(at({ mainsHz: 50, exposureS: 0.02 }) / at({ exposureS: 0.02 })).toBeCloseTo(1, 2);
  expect(at({ mainsHz: 50, exposureS: 0.002 })).toBe(Number.POSITIVE_INFINITY);
});

test('bunches whose events come out as one need as many bunches as single events', () => {
  const at = (bunch: number) =>
    eventsForDetection({
      threshold: 19,
      framesInView: 100,
      backgroundPerPx: 1.5e-5,
      sigmaPx: 0.9,
      exposureS: 0.018,
      frameRateHz: 50,
      bunch,
      mergePx: 20,
    });
  expect(at(3) / at(1)).toBeCloseTo(3, 6);
});
