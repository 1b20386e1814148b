import { describe, expect, test } from 'vitest';
import { randomFrom } from '../../maths/random.ts';
import { FrameOrder, type Ordered } from './frameOrder.ts';
import { burdenAt } from './keepingUp.ts';
import { Retention } from './retention.ts';

interface Frame {
  readonly tNs: number;
  readonly id: number;
}

function pass(stamps: readonly number[]): Ordered<Frame>[] {
  const order = new FrameOrder<Frame>();
  return [...stamps.flatMap((tNs, id) => order.push({ tNs, id })), ...order.flush()];
}
const given = (out: readonly Ordered<Frame>[]) =>
  out.flatMap((o) => (o.kind === 'next' ? [[o.segment, o.item.tNs]] : []));

describe('frames put in order', () => {
  test('neighbours that changed places are put right, and nothing is dropped', () => {
    expect(given(pass([1, 2, 4, 3, 5, 8, 6, 7, 9]))).toEqual([1, 2, 3, 4, 5, 6, 7, 8, 9].map((t) => [0, t]));
  });

  test('a clock set back starts a segment and drops nothing, however far it was set', () => {
    for (const back of [8.5, 20.3, 1e9]) {
      const stamps = [...Array(50).keys()].map((i) => (i < 30 ? 10 * i : 10 * (i - back)));
      const out = pass(stamps);
      expect(out.filter((o) => o.kind === 'dropped')).toEqual([]);
      expect(given(out)).toEqual(stamps.map((tNs, i) => [i < 30 ? 0 : 1, tNs]));
    }
  });

  test('set back by less than eight frames, it cannot be told from frames that are late: four of them are lost at most', () => {
    for (const back of [1.5, 3.5, 5.5, 7.5]) {
      const stamps = [...Array(50).keys()].map((i) => (i < 30 ? 10 * i : 10 * (i - back)));
      const dropped = pass(stamps).filter((o) => o.kind === 'dropped');
      expect(dropped.length).toBeLessThanOrEqual(4);
      expect(dropped.every((o) => o.because === 'late' && o.item.id >= 30)).toBe(true);
    }
  });

  test.each([1, 2, 3, 4, 5])(
    'each frame is given out or dropped exactly once, and stamps rise within a segment, seed %i',
    (seed) => {
      const random = randomFrom(seed);
      let clock = 1000;
      const stamps = Array.from({ length: 2000 }, () => {
        clock += 20;
        const chance = random.uniform();
        if (chance < 0.002) clock -= Math.floor(5000 * random.uniform());
        if (chance > 0.998) clock += 10_000;
        return chance > 0.9 ? clock - Math.floor(100 * random.uniform()) : clock;
      });
      const out = pass(stamps);
      const ids = out.flatMap((o) => (o.kind === 'clock stepped back' ? [] : [o.item.id])).sort((a, b) => a - b);
      expect(ids).toEqual(stamps.map((_, id) => id));
      const newest = new Map<number, number>();
      for (const [segment, tNs] of given(out)) {
        expect(tNs).toBeGreaterThan(newest.get(segment) ?? -Infinity);
        newest.set(segment, tNs);
      }
    },
  );
});

describe('frames that wait for a glow', () => {
  test('those within pre-roll and post-roll of any glow are kept, all others are released, each once', () => {
    const retention = new Retention<{ tNs: number }>(30, 20, 1000);
    const kept = new Set<number>();
    const left = new Set<number>();
    const glows = [100, 110, 300, 345, 420];
    for (let tNs = 0; tNs <= 500; tNs += 5) {
      if (glows.includes(tNs)) for (const frame of retention.glowAt(tNs)) kept.add(frame.tNs);
      if (retention.offer({ tNs }) === 'kept') kept.add(tNs);
      for (const frame of retention.release(tNs)) left.add(frame.tNs);
    }
    for (const frame of retention.releaseAll()) left.add(frame.tNs);
    for (let tNs = 0; tNs <= 500; tNs += 5) {
      const near = glows.some((glow) => tNs >= glow - 30 && tNs <= glow + 20);
      expect([kept.has(tNs), left.has(tNs)], `frame at ${tNs}`).toEqual([near, !near]);
    }
  });

  test('memory stays bounded where time stands still', () => {
    const retention = new Retention<{ tNs: number }>(30, 20, 10);
    let held = 0;
    for (let i = 0; i < 1000; i++) {
      retention.offer({ tNs: 7 });
      held += 1 - retention.release(7).length;
      expect(held).toBeLessThanOrEqual(10);
    }
  });
});

test('what is given up on the way down is taken up again at half the lag', () => {
  expect(burdenAt(0.9, 'everything')).toBe('everything');
  expect(burdenAt(1.2, 'everything')).toBe('no documentation');
  expect(burdenAt(0.7, 'no documentation')).toBe('no documentation');
  expect(burdenAt(0.4, 'no documentation')).toBe('everything');
  expect(burdenAt(9, 'everything')).toBe('nothing');
  expect(burdenAt(2.5, 'nothing')).toBe('nothing');
  expect(burdenAt(1.5, 'nothing')).toBe('no images');
});
