import { expect, test } from 'vitest';
import { type Random, randomFrom } from '../maths/random.ts';
import { lightInstantSigmaS } from './lightInstant.ts';

/** Mean instant of the photons that a pass shows, by throwing them one by one about the crests of a sine. */
function thrownMeanS(random: Random, exposureS: number, mainsHz: number, frameRateHz: number, frames: number): number {
  const phase = random.uniform();
  const positive = 0.2 + 0.6 * random.uniform();
  let sum = 0;
  let count = 0;
  for (let frame = 0; frame < frames; frame++)
    for (let photon = 0; photon < 12; photon++) {
      const half = Math.floor(8 * random.uniform()) - 4;
      if (random.uniform() > (half % 2 === 0 ? positive : 1 - positive)) continue;
      // Evenly over a third of a half-cycle.
      const cycles = phase + frame * (mainsHz / frameRateHz) + half / 2 + (random.uniform() - 0.5) / 6;
      const t = (cycles - Math.round(phase + frame * (mainsHz / frameRateHz))) / mainsHz;
      if (Math.abs(t) > exposureS / 2) continue;
      sum += t;
      count++;
    }
  return count < 10 ? Number.NaN : sum / count;
}

test.each([
  [0.018, 50, 50],
  [0.01, 50, 50],
  [0.018, 60, 60],
])(
  'photons thrown about the crests, %d s exposed at %d Hz and %d frames a second, have their mean where it is said, seed 5',
  (exposureS, mainsHz, rate) => {
    const random = randomFrom(5);
    const means = Array.from({ length: 3000 }, () => thrownMeanS(random, exposureS, mainsHz, rate, 60)).filter(
      Number.isFinite,
    );
    const rms = Math.sqrt(means.reduce((sum, t) => sum + t * t, 0) / means.length);
    const said = lightInstantSigmaS({ exposureS, mainsHz, frameRateHz: rate, watchedS: 60 / rate });
    // 3000 draws of an rms: 1.3 %; every pass counts alike here, by its light there: up to 6 %.
    expect(Math.abs(said / rms - 1)).toBeLessThan(0.1);
  },
);

test('frames out of step with the mains average the instant out, and a short exposure leaves it little room', () => {
  const sigma = (exposureS: number, mainsHz: number): number =>
    lightInstantSigmaS({ exposureS, mainsHz, frameRateHz: 50, watchedS: 2 });
  expect(sigma(0.018, 60)).toBeLessThan(0.1 * sigma(0.018, 50));
  // An even spread over 2 ms has a standard deviation of 0.58 ms: nothing can lie farther out in the mean.
  expect(sigma(0.002, 50)).toBeLessThan(0.58e-3);
});
