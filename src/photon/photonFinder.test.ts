import { expect, test } from 'vitest';
import type { GreyFrame } from '../camera/GreyFrame.ts';
import { randomFrom } from '../maths/random.ts';
import {
  pulseHeight,
  READ_NOISE_DN,
  ROOM_CAMERA,
  renderRoom,
  spotsAtRandom,
  type TrueSpot,
} from './darkRoom.fixture.ts';
import { EVENT_FLAGS, type PhotonEvents } from './PhotonEvents.ts';
import { PhotonEventsBuilder } from './PhotonEventsBuilder.ts';
import { type PhotonFinder, startPhotonFinder } from './photonFinder.ts';

const GAIN = 1;
const MEAN_CHARGE_DN = 120;

function eventsOf(frames: readonly GreyFrame[], gainOf: (frame: number) => number = () => GAIN): PhotonEvents {
  const finder = startPhotonFinder(ROOM_CAMERA);
  finder.learnFrom(frames.slice(0, 64));
  const events = new PhotonEventsBuilder();
  frames.forEach((frame, k) => finder.addInto(events, frame, { frame: k, tNs: k * 20e6, gain: gainOf(k) }));
  return events.finish();
}

/** Each true spot with the nearest event of its frame within 2 px, each event once. */
function match(events: PhotonEvents, truth: readonly (readonly TrueSpot[])[]) {
  const taken = new Set<number>();
  const pairs: { spot: TrueSpot; event: number }[] = [];
  truth.forEach((spots, frame) => {
    for (const spot of spots) {
      let nearest = -1;
      let least = 2;
      for (let i = 0; i < events.count; i++) {
        if (events.frame[i] !== frame || taken.has(i)) continue;
        const gap = Math.hypot(events.xPx[i] - spot.xPx, events.yPx[i] - spot.yPx);
        if (gap < least) {
          least = gap;
          nearest = i;
        }
      }
      if (nearest >= 0) {
        taken.add(nearest);
        pairs.push({ spot, event: nearest });
      }
    }
  });
  return pairs;
}

test('19 of 20 photons at 100 times the read noise are found, and 98 of 100 events are photons, seed 21', () => {
  const random = randomFrom(21);
  const truth: TrueSpot[][] = [];
  const frames = Array.from({ length: 300 }, () => {
    const spots = spotsAtRandom(random, 2, MEAN_CHARGE_DN, 4);
    truth.push(spots);
    return renderRoom(random, spots);
  });
  const events = eventsOf(frames);
  const pairs = match(events, truth);
  const all = truth.flat();
  // The filter's own noise is 16.8 DN / 2.87 per DN of charge = 5.9 DN; 5 sigma are 29 DN, and 4.3 % of gamma pulse
  // heights of relative spread 0.6 lie below (SciPy 1.10: gamma.cdf(29, 2.78, scale=43.2)); overlap takes about 1 % more.
  expect(pairs.length / all.length).toBeGreaterThan(0.93);
  expect(pairs.length / events.count).toBeGreaterThan(0.98);
  const bright = all.filter((spot) => spot.charge > 60).length;
  expect(pairs.filter(({ spot }) => spot.charge > 60).length / bright).toBeGreaterThan(0.985);
});

test('the position of an event is within 1.2 times the Cramér-Rao bound, and sigmaPx says how good it is, seed 22', () => {
  const random = randomFrom(22);
  const truth: TrueSpot[][] = [];
  const frames = Array.from({ length: 700 }, (_, k) => {
    const spots = k < 64 ? [] : [{ xPx: 70 + 9 * random.uniform(), yPx: 55 + 9 * random.uniform(), charge: 100 }];
    truth.push(spots);
    return renderRoom(random, spots);
  });
  const events = eventsOf(frames);
  let squares = 0;
  let whitened = 0;
  const pairs = match(events, truth);
  for (const { spot, event } of pairs) {
    const error = (events.xPx[event] - spot.xPx) ** 2 + (events.yPx[event] - spot.yPx) ** 2;
    squares += error / 2;
    whitened += error / 2 / events.sigmaPx[event] ** 2;
  }
  expect(pairs.length).toBeGreaterThan(620);
  // White noise alone: sigma² = 8 pi s⁴ b² / N² (background term of Thompson, Larson & Webb, Biophys. J. 82 (2002) 2775),
  // with s² enlarged by the pixel (1/12) and b² by rounding (1/12).
  const s2 = ROOM_CAMERA.spotSigmaPx ** 2 + 1 / 12;
  const boundPx = Math.sqrt(8 * Math.PI * s2 * s2 * (READ_NOISE_DN ** 2 + 1 / 12)) / 100;
  expect(Math.sqrt(squares / pairs.length)).toBeLessThan(1.2 * boundPx);
  // 636 events, two axes: the mean square of true pulls scatters by 4 %; 12 % is three of that.
  expect(whitened / pairs.length).toBeGreaterThan(0.88);
  expect(whitened / pairs.length).toBeLessThan(1.15);
});

test('two photons 4 px apart in one frame are told apart and keep their charges, seed 23', () => {
  const random = randomFrom(23);
  const frames = Array.from({ length: 200 }, (_, k) =>
    renderRoom(
      random,
      k < 64
        ? []
        : [
            { xPx: 60.2, yPx: 50.4, charge: 150 },
            { xPx: 64.1, yPx: 51.2, charge: 100 },
          ],
    ),
  );
  const events = eventsOf(frames);
  let pairs = 0;
  let charge = 0;
  for (let i = 0; i + 1 < events.count; i++) {
    if (events.frame[i] !== events.frame[i + 1]) continue;
    pairs++;
    charge += events.charge[i] + events.charge[i + 1];
  }
  expect(pairs).toBeGreaterThan(130); // of 136
  expect(charge / pairs).toBeGreaterThan(245);
  expect(charge / pairs).toBeLessThan(255);
});

test('a pixel that fires alone is no photon, and a cosmic ray out of the dark is too bright for one, seed 24', () => {
  const random = randomFrom(24);
  const hot = 40 * ROOM_CAMERA.widthPx + 81;
  const frames = Array.from({ length: 200 }, (_, k) =>
    renderRoom(random, k === 150 ? [{ xPx: 30, yPx: 90, charge: 1100 }] : [], {
      lonePixels: k > 64 && k % 3 === 0 ? new Map([[hot, 60]]) : new Map(),
    }),
  );
  const events = eventsOf(frames);
  let lone = 0;
  for (let i = 0; i < events.count; i++) {
    if (Math.hypot(events.xPx[i] - 81, events.yPx[i] - 40) < 2) {
      expect(events.flags[i] & EVENT_FLAGS.hotPixel).not.toBe(0);
      lone++;
    }
    if (events.frame[i] === 150 && events.xPx[i] < 40) expect(events.flags[i] & EVENT_FLAGS.tooBright).not.toBe(0);
  }
  expect(lone).toBe(45);
});

test('a step of gain with a step of offset makes no events, and the spots after it are found, seed 25', () => {
  const random = randomFrom(25);
  const frames = Array.from({ length: 200 }, (_, k) =>
    renderRoom(random, k === 180 ? [{ xPx: 80, yPx: 60, charge: 300 }] : [], { offsetDn: k < 120 ? 10 : 15 }),
  );
  const events = eventsOf(frames, (k) => (k < 120 ? 1 : 2));
  const photons = Array.from(events.frame).filter((frame) => frame !== 180);
  // 200 frames of 18 000 places at 5 sigma: 0.3 chance hits expected, more than 4 happen once in 10⁵ times.
  expect(photons.length).toBeLessThan(5);
  expect(Array.from(events.frame)).toContain(180);
});

test('a source that stays in place is still seen after 1000 frames, though it shone while the dark level was learned, seed 26', () => {
  const random = randomFrom(26);
  const perFrame: number[] = [];
  const frames = Array.from({ length: 1000 }, () => {
    const spots = Array.from({ length: random.poisson(1.5) }, () => ({
      xPx: 80 + 0.7 * random.normal(),
      yPx: 60 + 0.7 * random.normal(),
      charge: pulseHeight(random, MEAN_CHARGE_DN),
    }));
    perFrame.push(spots.length);
    return renderRoom(random, spots);
  });
  const events = eventsOf(frames);
  const lit = new Set(Array.from(events.frame).filter((frame) => frame >= 800));
  const trulyLit = perFrame.slice(800).filter((n) => n > 0).length;
  expect(lit.size / trulyLit).toBeGreaterThan(0.93);
});

test('the afterglow of a photon is linked to it and not counted again, seed 27', () => {
  const random = randomFrom(27);
  const frames: GreyFrame[] = [];
  let before: TrueSpot[] = [];
  for (let k = 0; k < 300; k++) {
    const spots = k < 64 ? [] : spotsAtRandom(random, 0.5, 300, 6);
    frames.push(renderRoom(random, [...spots, ...before.map((spot) => ({ ...spot, charge: 0.2 * spot.charge }))]));
    before = spots;
  }
  const events = eventsOf(frames);
  let late = 0;
  let flagged = 0;
  for (let i = 0; i < events.count; i++)
    for (let j = 0; j < events.count; j++)
      if (
        events.frame[j] === events.frame[i] - 1 &&
        Math.hypot(events.xPx[i] - events.xPx[j], events.yPx[i] - events.yPx[j]) < 1.5
      ) {
        late++;
        if (events.flags[i] & EVENT_FLAGS.afterglow) flagged++;
      }
  expect(late).toBeGreaterThan(60);
  expect(flagged / late).toBeGreaterThan(0.95);
});

test.each([
  [8, 28],
  [16, 29],
])(
  'with SIMD or without, restored half-way or not, a stream of %i bit gives the same bytes, seed %i',
  (bitDepth, seed) => {
    const random = randomFrom(seed);
    const scale = bitDepth === 8 ? 1 : 90;
    const camera = {
      ...ROOM_CAMERA,
      bitDepth,
      saturationLevel: 255 * scale,
      gainCurve: ROOM_CAMERA.gainCurve.map(({ gain, meanChargeDn }) => ({ gain, meanChargeDn: scale * meanChargeDn })),
    };
    // Three steps of gain and more than one block of the dark model, from 150 frames shown again and again.
    const rendered = Array.from({ length: 150 }, (_, k): GreyFrame => {
      const frame = renderRoom(random, spotsAtRandom(random, 2, MEAN_CHARGE_DN), { offsetDn: 10 + Math.sin(k / 24) });
      return bitDepth === 8 ? frame : { ...frame, data: Uint16Array.from(frame.data, (value) => 90 * value) };
    });
    const count = 1300;
    const start = (kernels: 'simd' | 'plain') => startPhotonFinder(camera, { kernels });
    const run = (finder: PhotonFinder, events: PhotonEventsBuilder, from: number, to: number): void => {
      for (let k = from; k < to; k++)
        finder.addInto(events, rendered[k % 150], { frame: k, tNs: k * 20e6, gain: 1 + (Math.floor(k / 400) % 2) });
    };
    const whole = (['simd', 'plain'] as const).map((kernels) => {
      const finder = start(kernels);
      finder.learnFrom(rendered.slice(0, 64));
      const events = new PhotonEventsBuilder();
      run(finder, events, 0, count);
      return { events: events.finish(), state: Buffer.from(finder.snapshot()) };
    });
    const first = start('simd');
    first.learnFrom(rendered.slice(0, 64));
    const events = new PhotonEventsBuilder();
    run(first, events, 0, 1090);
    const second = start('plain');
    // As a file read gives it: a Buffer somewhere inside a larger block.
    second.restore(Buffer.concat([Buffer.from([7]), first.snapshot()]).subarray(1));
    run(second, events, 1090, count);
    expect(whole[0].events.count).toBeGreaterThan(1000);
    expect(whole[1].events).toEqual(whole[0].events);
    expect(events.finish()).toEqual(whole[0].events);
    expect(whole[1].state.equals(whole[0].state)).toBe(true);
    expect(Buffer.from(second.snapshot()).equals(whole[0].state)).toBe(true);
  },
);
