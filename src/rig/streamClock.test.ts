import { expect, test } from 'vitest';
import { randomFrom } from '../maths/random.ts';
import { misplacedFrames } from './frameOrder.ts';
import { lampsAt, type NamedMarks, pairStreams, type TimedMarks } from './pairByTime.ts';
import { type ClockSample, estimateClock, searchClockOffset } from './streamClock.ts';

/** A board carried by hand: two slow waves in each direction, up to 200 px/s. */
const path = (mark: number, tNs: number): [number, number] => {
  const t = tNs * 1e-9;
  return [
    640 + 60 * mark + 220 * Math.sin(0.61 * t) + 40 * Math.sin(2.3 * t + 1),
    500 + 35 * mark * mark + 180 * Math.cos(0.47 * t) + 30 * Math.sin(1.9 * t),
  ];
};
const stream = (seed: number, rateHz: number, seconds: number, sigmaPx: number, lateNs = 0): TimedMarks[] => {
  const random = randomFrom(seed);
  return Array.from({ length: rateHz * seconds }, (_, i) => {
    const tNs = Math.round((i * 1e9) / rateHz);
    return {
      tNs,
      marks: [0, 1, 2].map((mark) => {
        const [u, v] = path(mark, tNs + lateNs);
        return { u: u + sigmaPx * random.normal(), v: v + sigmaPx * random.normal(), sigmaPx };
      }),
    };
  });
};
/** What a colour camera of another scale makes of it: a plane model with some bend. */
const colourOf = ({ tNs, marks }: TimedMarks, i: number): NamedMarks => ({
  name: `${i}`,
  tNs,
  sweep: 0,
  marks: marks.map((m) => m && { ...m, u: 1.2 * m.u + 0.02 * m.v + 30 + 4e-6 * m.u * m.v, v: 1.2 * m.v - 0.02 * m.u }),
});

test('between frames 50 ms apart a lamp moved by hand is found to a hundredth of a pixel, seed 1', () => {
  const clean = stream(1, 20, 20, 0);
  let worst = 0;
  for (let tNs = 2.01e9; tNs < 17e9; tNs += 0.0317e9) {
    const [seen] = lampsAt(clean, tNs, 5e7);
    const [u, v] = path(0, tNs);
    worst = Math.max(worst, Math.hypot(seen!.u - u, seen!.v - v));
  }
  // Fourth derivative of the quick wave, 40 · 2.3⁴ px/s⁴, times 9/384 of the interval to the fourth: 2e-4 px.
  expect(worst).toBeLessThan(3e-4);
});

test.each([
  ['eleven frames late', -0.55e9],
  ['a frame and a bit early', 0.0731e9],
  ['a third of a frame', 0.0166e9],
])('streams %s are brought together from the motion alone, seed 2', (_, lateNs) => {
  const lamps = stream(2, 20, 30, 0.1);
  const discs = stream(3, 20, 30, 0.1, lateNs).map(colourOf);
  const found = searchClockOffset(lamps, discs, 5e7);
  expect(found!.significant).toBe(true);
  // Noise 0.16 px over 100 px/s and 1800 marks is 0.04 ms; the bend of the path and of the picture leave more.
  expect(Math.abs(found!.offsetMs - lateNs / 1e6)).toBeLessThan(0.5);
});

test('streams that agree are left as they are, seed 4', () => {
  expect(searchClockOffset(stream(4, 20, 20, 0.1), stream(5, 20, 20, 0.1).map(colourOf), 5e7)).toBeNull();
});

test('offset and drift come out within their standard deviations, over 60 draws', () => {
  let offsetSquares = 0;
  let driftSquares = 0;
  const draws = 60;
  for (let seed = 0; seed < draws; seed++) {
    const random = randomFrom(700 + seed);
    const samples: ClockSample[] = [];
    for (let frame = 0; frame < 150; frame++) {
      const tNs = frame * 4e8;
      // An error that all marks of a frame share, as that of its range.
      const shared = 0.08 * random.normal();
      for (let mark = 0; mark < 4; mark++) {
        const x = 2 * random.uniform() - 1;
        const rate = [150 * Math.sin(0.3 * frame), 120 * Math.cos(0.37 * frame)] as const;
        const lateS = 0.0007 + 12e-6 * (tNs - 29.8e9) * 1e-9;
        samples.push({
          frame,
          tNs,
          residualPx: [
            rate[0] * lateS + 0.1 * random.normal() + shared + 0.2 * x,
            rate[1] * lateS + 0.1 * random.normal() - 0.1 * x * x,
          ],
          ratePxPerS: rate,
          sigmaPx: 0.1,
          nuisance: [1, x, x * x],
        });
      }
    }
    const clock = estimateClock(samples);
    if (clock.kind === 'refused') throw new Error(clock.because);
    expect(clock.aboutNs).toBe(29.8e9);
    offsetSquares += ((clock.offsetMs - 0.7) / clock.offsetSigmaMs) ** 2;
    driftSquares += ((clock.driftPpm - 12) / clock.driftSigmaPpm) ** 2;
    expect(clock.offsetSigmaMs).toBeLessThan(0.06);
  }
  // Chi-square of 60 degrees, 99.9 % within 31.7 and 99.6.
  for (const sum of [offsetSquares, driftSquares]) {
    expect(sum).toBeGreaterThan(31.7);
    expect(sum).toBeLessThan(99.6);
  }
});

test('a target at rest tells nothing of the clocks', () => {
  const still = Array.from({ length: 100 }, (_, frame) => ({
    frame,
    tNs: frame * 1e8,
    residualPx: [0.1, -0.1] as const,
    ratePxPerS: [0, 0.001] as const,
    sigmaPx: 0.1,
    nuisance: [1],
  }));
  expect(estimateClock(still)).toEqual({ kind: 'refused', because: 'the target hardly moved' });
});

test('frames delivered twice or in the wrong order are named, and no others, seed 6', () => {
  const frames = stream(6, 20, 10, 0.1);
  expect(misplacedFrames(frames, 5e7)).toEqual([]);
  const spoilt = [...frames];
  spoilt[40] = { ...frames[39], tNs: frames[40].tNs };
  spoilt[80] = { ...frames[81], tNs: frames[80].tNs };
  spoilt[81] = { ...frames[80], tNs: frames[81].tNs };
  expect(misplacedFrames(spoilt, 5e7)).toEqual([
    { index: 40, kind: 'repeated' },
    { index: 80, kind: 'swapped with the next' },
  ]);
  // With the frames around the exchange missing on either side, too.
  for (const missing of [[78], [83]])
    expect(
      misplacedFrames(
        spoilt.filter((_, i) => i > 60 && !missing.includes(i)),
        5e7,
      ),
    ).toHaveLength(1);
});

test('pairing carries colour stamps to the uv clock', () => {
  const lamps = stream(8, 20, 10, 0);
  const late = stream(8, 20, 10, 0, 2e7).map(colourOf);
  const { frames, unpaired } = pairStreams(lamps, late, 5e7, { offsetMs: 20, driftPpm: 0, aboutNs: 0 });
  expect(unpaired).toHaveLength(1); // the last one lies beyond the last uv frame
  const [u] = path(0, frames[50].tNs);
  expect(frames[50].tNs).toBe(50 * 5e7 + 2e7);
  expect(Math.abs(frames[50].marks[0].uv!.u - u)).toBeLessThan(3e-4);
});
