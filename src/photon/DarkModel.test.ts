import { expect, test } from 'vitest';
import { randomFrom } from '../maths/random.ts';
import { BLOCK_FRAMES, DarkModel } from './DarkModel.ts';
import { plainSpotKernels } from './plainSpotKernels.ts';

const W = 48;
const H = 40;
const NOISE_DN = 1.6;

test('level and noise follow the pixels through blocks though the level of the frames wanders, seed 31', () => {
  const random = randomFrom(31);
  const offset = Float64Array.from({ length: W * H }, () => 12 + 2 * random.normal());
  let wander = 0;
  const frameOf = (k: number, own: Float64Array) => {
    wander = 2.3 * Math.sin(k / 31);
    const data = Uint8Array.from(own, (dn) => Math.round(dn + wander + NOISE_DN * random.normal()));
    return { widthPx: W, heightPx: H, data };
  };
  const model = new DarkModel(plainSpotKernels(W, H, 8), W, H, 8, 5);
  model.learnFrom(Array.from({ length: 64 }, (_, k) => frameOf(k, offset)));
  // Then every pixel moves by an amount of its own, which the model has to learn.
  const moved = offset.map((dn) => dn + 0.6 * random.normal());
  for (let k = 0; k < 5 * BLOCK_FRAMES; k++) {
    const { data } = frameOf(k, moved);
    model.kernels.take(data);
    const level = model.kernels.probe();
    if (!model.holds(level, 1)) model.renewThresholds();
    model.update(data, level.levelDn, []);
  }
  let [common, squares, noise] = [0, 0, 0];
  for (let i = 0; i < W * H; i++) common += (model.meanDn[i] - moved[i]) / (W * H);
  for (let i = 0; i < W * H; i++) {
    squares += (model.meanDn[i] - moved[i] - common) ** 2 / (W * H);
    noise += model.noiseDn[i] ** 2 / (W * H);
  }
  // A half of each block of 32: three blocks' worth, 96 samples, of noise and rounding; and 0.6 DN / 2^5 of what was.
  const sampled = (NOISE_DN ** 2 + 1 / 12) / 96;
  expect(Math.sqrt(squares)).toBeLessThan(1.1 * Math.sqrt(sampled + (0.6 / 32) ** 2));
  expect(Math.sqrt(squares)).toBeGreaterThan(0.8 * Math.sqrt(sampled));
  // 1920 pixels of 224 samples (7 blocks' worth at a quarter each) leave 0.2 %; clipping at 4 sigma takes 0.1 %.
  expect(noise / (NOISE_DN ** 2 + 1 / 12)).toBeGreaterThan(0.985);
  expect(noise / (NOISE_DN ** 2 + 1 / 12)).toBeLessThan(1.015);
});
