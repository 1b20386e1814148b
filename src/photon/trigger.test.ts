import { describe, expect, test } from 'vitest';
import { randomFrom } from '../maths/random.ts';
import { EVENT_FLAGS } from './PhotonEvents.ts';
import { type FrameEvents, type Glow, startGlowTrigger } from './trigger.ts';

const camera = { widthPx: 320, heightPx: 256, blurSigmaPx: 0.9, frameRateHz: 50 };
/** The density of 5 events a frame at 640 x 512 px. */
const BACKGROUND = 1.25;

interface Event {
  readonly xPx: number;
  readonly yPx: number;
  readonly charge: number;
  readonly flags: number;
}
const frameOf = (events: readonly Event[]): FrameEvents => ({
  xPx: events.map((e) => e.xPx),
  yPx: events.map((e) => e.yPx),
  charge: events.map((e) => e.charge),
  flags: events.map((e) => e.flags),
  from: 0,
  to: events.length,
});

/** Poisson in number, even in place, gamma charges of mean 1 and relative spread 0.6. */
function background(random: ReturnType<typeof randomFrom>, perFrame = BACKGROUND): Event[] {
  return Array.from({ length: random.poisson(perFrame) }, () => ({
    xPx: camera.widthPx * random.uniform(),
    yPx: camera.heightPx * random.uniform(),
    charge: random.gamma(1 / 0.36) * 0.36,
    flags: 0,
  }));
}

describe('false glows', () => {
  test.each([
    [41, BACKGROUND, 10_000],
    [42, 10 * BACKGROUND, 1500],
  ])('chance alone makes no more of them than allowed, seed %i, %f events a frame', (seed, perFrame, frames) => {
    const allowedPerHour = 3600;
    const trigger = startGlowTrigger({ ...camera, falseGlowsPerHour: allowedPerHour });
    const random = randomFrom(seed);
    let glowing = 0;
    for (let i = 0; i < frames; i++)
      if (trigger.judge(frameOf(background(random, perFrame)), 1).kind !== 'none') glowing++;
    // One a second is allowed. The bound is on the mean: three standard deviations of a Poisson count above it are left to chance.
    const allowed = (allowedPerHour * frames) / (3600 * camera.frameRateHz);
    expect(glowing).toBeLessThan(allowed + 3 * Math.sqrt(allowed));
    // Far below would mean sources given away.
    expect(glowing).toBeGreaterThan(allowed / 50);
    expect(trigger.backgroundPerFrame()).toBeGreaterThan(0.8 * perFrame);
    expect(trigger.backgroundPerFrame()).toBeLessThan(1.2 * perFrame);
  });

  test('stray bright spots of the camera are learned: of one every two seconds for ten minutes, few pass', () => {
    const random = randomFrom(43);
    const trigger = startGlowTrigger({ ...camera, falseGlowsPerHour: 6 });
    let flashes = 0;
    for (let i = 0; i < 30_000; i++) {
      const stray: Event[] =
        i % 100 === 50
          ? [{ xPx: 300 * random.uniform(), yPx: 99, charge: 10 + 50 * random.uniform(), flags: EVENT_FLAGS.tooBright }]
          : [];
      if (trigger.judge(frameOf([...stray, ...background(random, 0.2)]), 1).kind === 'flash') flashes++;
    }
    // Each that passes raises the bar by half: from 10 to 60 in five steps at most, of 300.
    expect(flashes).toBeGreaterThanOrEqual(1);
    expect(flashes).toBeLessThanOrEqual(6);
  });
});

describe('glows', () => {
  test('a source of one event in two frames that crosses the image at 9 px a frame is seen within half a second, 19 times in 20', () => {
    let seen = 0;
    const runs = 100;
    for (let run = 0; run < runs; run++) {
      const random = randomFrom(5000 + run);
      const trigger = startGlowTrigger({ ...camera, falseGlowsPerHour: 6 });
      for (let i = 0; i < 300; i++) trigger.judge(frameOf(background(random)), 1);
      let glow: Glow = { kind: 'none' };
      for (let i = 0; i < 25 && glow.kind === 'none'; i++) {
        const events = background(random);
        for (let n = random.poisson(0.5); n > 0; n--)
          events.push({
            xPx: 20 + 9 * i + 0.9 * random.normal(),
            yPx: 200 - 3 * i + 0.9 * random.normal(),
            charge: 1,
            flags: 0,
          });
        glow = trigger.judge(frameOf(events), 1);
      }
      if (glow.kind === 'cluster') seen++;
    }
    expect(seen).toBeGreaterThanOrEqual(95);
  });

  test('one event of 40 mean charges is a glow by itself', () => {
    const trigger = startGlowTrigger({ ...camera, falseGlowsPerHour: 6 });
    const random = randomFrom(44);
    for (let i = 0; i < 100; i++) trigger.judge(frameOf(background(random)), 1);
    const flash = { xPx: 71, yPx: 152, charge: 40, flags: EVENT_FLAGS.tooBright };
    expect(trigger.judge(frameOf([flash]), 1)).toEqual({ kind: 'flash', xPx: 71, yPx: 152, meanCharges: 40 });
  });

  test('afterglow and hot pixels make none, however many', () => {
    const trigger = startGlowTrigger({ ...camera, falseGlowsPerHour: 6 });
    for (let i = 0; i < 200; i++) {
      const hot = { xPx: 17, yPx: 31, charge: 50, flags: EVENT_FLAGS.hotPixel };
      const after = { xPx: 80, yPx: 90, charge: 20, flags: EVENT_FLAGS.afterglow };
      expect(trigger.judge(frameOf([hot, after]), 1)).toEqual({ kind: 'none' });
    }
  });
});
