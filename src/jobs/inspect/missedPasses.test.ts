import { expect, test } from 'vitest';
import type { Lens } from '../../camera/Lens.ts';
import type { RateObservation } from '../../grade/estimatePhotonRate.ts';
import type { FramePoses } from '../../sighting/EventRays.ts';
import type { Stretch } from './countSource.ts';
import { countWithMissed, missedPasses } from './missedPasses.ts';

const LENS: Lens = {
  widthPx: 640,
  heightPx: 512,
  fxPx: 1000,
  fyPx: 1000,
  cxPx: 319.5,
  cyPx: 255.5,
  k1: 0,
  k2: 0,
  p1: 0,
  p2: 0,
  k3: 0,
};

/** Three passes eastwards at 40 m south of the origin, 50 frames a second, 15 m/s, a minute apart; the camera looks north. */
function threePasses(): FramePoses {
  const perPass = 200;
  const count = 3 * perPass;
  const originEnuM = new Float64Array(3 * count);
  const uvFromEnu = new Float64Array(9 * count);
  const tNs = new Float64Array(count);
  for (let i = 0; i < count; i++) {
    const [pass, k] = [Math.floor(i / perPass), i % perPass];
    tNs[i] = pass * 60e9 + k * 2e7;
    originEnuM.set([(k - perPass / 2) * 0.3, -40, 0], 3 * i);
    uvFromEnu.set([1, 0, 0, 0, 0, -1, 0, 1, 0], 9 * i);
  }
  return {
    count,
    frame: Int32Array.from({ length: count }, (_, i) => i),
    tNs,
    exposureNs: new Float64Array(count).fill(18e6),
    originEnuM,
    uvFromEnu,
  };
}

const about = (s: number, offsetPx: readonly [number, number] = [0, 0]): Stretch => ({
  fromNs: (s + 1) * 1e9,
  toNs: (s + 3) * 1e9,
  offsetPx,
});

test('a pass that had the place in the image and did not find it is known, with the offset that others show in it', () => {
  const missed = missedPasses([0, 0, 0], [about(0)], threePasses(), LENS, [about(60, [2, -1]), about(60, [4, 1])]);
  // The third pass showed nothing else either: how far off things are there is not known.
  expect(missed).toHaveLength(1);
  expect(missed[0].offsetPx).toEqual([3, 0]);
  expect(missed[0].fromNs).toBeGreaterThan(60e9);
  // 640 px of 40 mm are 25.6 m, at 0.3 m a frame.
  expect(Math.abs(missed[0].frames - 25.6 / 0.3)).toBeLessThan(2);
});

const observed = (frames: number, events: number): RateObservation => {
  const counts = new Float64Array(frames);
  counts.fill(1, 0, events);
  const of = (value: number): Float64Array => new Float64Array(frames).fill(value);
  return {
    counts,
    charge: counts,
    foundShare: of(1),
    background: of(0),
    singleCharge: 1,
    singleChargeSpread2: 0.3,
    rangeM: of(40),
    exposureS: of(0.018),
    tNs: of(0),
  };
};

test('a pass missed by bad luck is counted, one that a bright source cannot have been missed in is not', () => {
  const missed = missedPasses([0, 0, 0], [about(0)], threePasses(), LENS, [about(60)]);
  const asked: number[] = [];
  const count =
    (events: number) =>
    (stretches: readonly Stretch[]): RateObservation => {
      asked.push(stretches.length);
      return observed(85, events);
    };
  countWithMissed(count(12), [about(0)], missed);
  expect(asked).toEqual([1, 2]);
  asked.length = 0;
  countWithMissed(count(60), [about(0)], missed);
  expect(asked).toEqual([1]);
});
