import { expect, test } from 'vitest';
import { randomFrom } from '../maths/random.ts';
import { flyPast } from './flyPast.fixture.ts';
import { injectSource, type SyntheticSource } from './injectSource.ts';

const RATE = 400_000;
/** Square law alone, in round numbers to count by. */
const squareLaw = (rangeM: number): number => 1 / rangeM ** 2;

const source = (
  placeEnuM: readonly [number, number, number],
  change: Partial<SyntheticSource> = {},
): SyntheticSource => ({
  placeEnuM,
  photonsPerS: RATE,
  eventsPerPhotonAt: squareLaw,
  finderEfficiency: 1,
  bunch: 1,
  scatterPx: 0.95,
  mergePx: 0,
  ...change,
});

/** A level flight past the place, by hand: frames in view and the range law alone say how many events there are. */
function expected(placeEastM: number, placeNorthM: number, frames: number): number {
  let sum = 0;
  for (let i = 0; i < frames; i++) {
    const east = placeEastM - 15 * 0.02 * i;
    // 640 px at a focal length of 1000: 0.32 to each side; the sway of a degree moves the edge, not the sum.
    if (Math.abs(east / placeNorthM) < 0.32) sum += (RATE * 0.018) / (east * east + placeNorthM ** 2);
  }
  return sum;
}

test('an injected source gives the events of range law and exposure, and half as many at twice the range, where it shows twice as long, seed 31', () => {
  const flown = flyPast(randomFrom(31), { frames: 500, backgroundPerFrame: 5, sources: [] });
  for (const northM of [30, 60]) {
    const random = randomFrom(northM);
    const { count, events, synthetic } = injectSource(
      flown.events,
      flown.poses,
      flown.lens,
      source([75, northM, 0.5]),
      random,
    );
    const mean = expected(75, northM, 500);
    // Three and a half standard deviations of the count, and 2 % for what the sway does to the time in view.
    expect(Math.abs(count - mean)).toBeLessThan(3.5 * Math.sqrt(mean) + 0.02 * mean);
    expect(events.count).toBe(flown.events.count + count);
    expect(synthetic.reduce((sum, s) => sum + s, 0)).toBe(count);
    for (let k = 1; k < events.count; k++) expect(events.frame[k]).toBeGreaterThanOrEqual(events.frame[k - 1]);
  }
});

test('half the events are lost by a finder of half the efficiency, and light in bunches scatters more than Poisson, seed 32', () => {
  const flown = flyPast(randomFrom(32), { frames: 300, backgroundPerFrame: 0, sources: [] });
  const counts = (change: Partial<SyntheticSource>, seed: number): number[] => {
    const random = randomFrom(seed);
    return Array.from(
      { length: 200 },
      () =>
        injectSource(
          flown.events,
          flown.poses,
          flown.lens,
          source([45, 40, 0], { photonsPerS: 200_000, ...change }),
          random,
        ).count,
    );
  };
  const mean = (n: number[]): number => n.reduce((a, b) => a + b, 0) / n.length;
  const fano = (n: number[]): number => n.reduce((sum, x) => sum + (x - mean(n)) ** 2, 0) / (n.length - 1) / mean(n);
  const whole = counts({}, 1);
  const half = counts({ finderEfficiency: 0.5 }, 2);
  // About 190 and 95 events a pass in 150 passes: 0.6 and 0.8 % each, five sigmas.
  expect(Math.abs(mean(half) / mean(whole) - 0.5)).toBeLessThan(0.025);
  // Variance over mean of 150 draws is known to 12 %; geometric bunches of mean m have 2 m - 1.
  expect(Math.abs(fano(whole) - 1)).toBeLessThan(0.35);
  expect(Math.abs(fano(counts({ bunch: 3 }, 3)) - 5)).toBeLessThan(1.75);
});

test('photons that arrive together within a spot come out as one event, seed 33', () => {
  const flown = flyPast(randomFrom(33), { frames: 300, backgroundPerFrame: 0, sources: [] });
  const inject = (mergePx: number) =>
    injectSource(flown.events, flown.poses, flown.lens, source([45, 40, 0], { bunch: 4, mergePx }), randomFrom(4));
  const apart = inject(0);
  const merged = inject(1000);
  expect(apart.merged).toBe(0);
  expect(merged.merged).toBeGreaterThan(0);
  // Nothing nearer than a whole picture: one event a frame at most.
  expect(new Set(merged.events.frame.subarray(0, merged.events.count)).size).toBe(merged.count);
});
