import { expect, test } from 'vitest';
import { randomFrom } from '../maths/random.ts';
import { inventWorld } from './inventWorld.ts';
import { meanChargeDn } from './meanCharge.ts';
import { addPhoton, addSpot, noSpots } from './Spots.ts';
import { AFTERGLOW_SHARE, depositSpots, uvSensor } from './uvSensor.ts';

const world = inventWorld(3);
const { widthPx, heightPx } = world.rig.nominal.cameras.uv;
const sensor = uvSensor(world);
const readOut = (spots = noSpots(), previous: ReturnType<typeof noSpots> | null = null, chanceKey = 1) => {
  const out = new Uint8ClampedArray(widthPx * heightPx);
  sensor.readInto(out, { spots, previous, tS: 0, chanceKey });
  return out;
};

test('a spot of 120 DN and 1.3 px gives the pixel in its middle 10.77 DN and keeps its charge', () => {
  const spots = noSpots();
  addSpot(spots, 20, 20, 120, 1.3, 0);
  const signal = new Float32Array(41 * 41);
  depositSpots(signal, 41, 41, spots, 1);
  // Q erf(0.5 / (s sqrt 2))^2; erf(0.2720) = 0.29950 (Abramowitz & Stegun, table 7.1, interpolated).
  expect(signal[20 * 41 + 20]).toBeCloseTo(120 * 0.2995 ** 2, 2);
  const sum = signal.reduce((a, b) => a + b, 0);
  expect(Math.abs(sum / 120 - 1)).toBeLessThan(0.002); // cut off where the tail is below a hundredth of a DN
});

test('pulse heights scatter by 60 per cent about their mean, and places by 0.9 px, seed 5', () => {
  const random = randomFrom(5);
  const spots = noSpots();
  for (let i = 0; i < 20000; i++) addPhoton(random, spots, 100, 50, 120, 1.3, 0);
  const charges = [...spots.chargeDn.subarray(0, spots.count)];
  const mean = charges.reduce((a, b) => a + b, 0) / charges.length;
  const sd = Math.sqrt(charges.reduce((a, b) => a + (b - mean) ** 2, 0) / charges.length);
  expect(Math.abs(mean - 120)).toBeLessThan(4 * 0.51); // 72 / sqrt(20000)
  expect(Math.abs(sd / mean - 0.6)).toBeLessThan(0.02); // sd of a gamma's sd: about 0.6 sqrt((2 + 2.16) / 4 / 20000)
  const xs = [...spots.xPx.subarray(0, spots.count)];
  const spread = Math.sqrt(xs.reduce((a, x) => a + (x - 100) ** 2, 0) / xs.length);
  expect(Math.abs(spread - 0.9)).toBeLessThan(4 * 0.0045); // 0.9 / sqrt(2 n)
});

test('a dark frame is an offset near 10 DN with a noise of 1.2 DN, quantised', () => {
  const [a, b] = [readOut(noSpots(), null, 1), readOut(noSpots(), null, 2)];
  const mean = a.reduce((x, y) => x + y, 0) / a.length;
  expect(Math.abs(mean - 10)).toBeLessThan(0.3); // 640 columns of 0.8 DN: 0.03, and the hot pixels
  // The difference of two frames cancels the pattern: variance 2 (1.2^2 + 1/12), hot pixels aside.
  const squares = [...a].map((v, i) => (v - b[i]!) ** 2).filter((d) => d < 100);
  expect(Math.abs(squares.reduce((x, y) => x + y, 0) / squares.length / (2 * (1.44 + 1 / 12)) - 1)).toBeLessThan(0.02);
});

test('the sensor is full at 255 and stays there over the middle of a blinding spot', () => {
  const spots = noSpots();
  addSpot(spots, 300, 200, 60_000, 1.3, 0);
  const out = readOut(spots);
  // 60 000 DN peak at 5650 DN and pass 255 DN out to 1.3 sqrt(2 ln(5650 / 245)) = 3.26 px.
  for (let d = -3; d <= 3; d++) expect(out[200 * widthPx + 300 + d]).toBe(255);
  expect(out[200 * widthPx + 304]).toBeLessThan(255);
});

test('the phosphor gives a twentieth of the charge again in the next frame, at the same place', () => {
  const before = noSpots();
  addSpot(before, 300, 200, 20_000, 1.3, 0);
  // Both frames have the same noise; the difference is the afterglow alone, up to rounding.
  const [dark, after] = [readOut(noSpots(), null, 9), readOut(noSpots(), before, 9)];
  let [sum, x] = [0, 0];
  for (let v = 190; v <= 210; v++) {
    for (let u = 290; u <= 310; u++) {
      const d = after[v * widthPx + u]! - dark[v * widthPx + u]!;
      sum += d;
      x += d * u;
    }
  }
  expect(Math.abs(sum / (AFTERGLOW_SHARE * 20_000) - 1)).toBeLessThan(0.03); // rounding: 0.4 DN in about 60 pixels
  expect(Math.abs(x / sum - 300)).toBeLessThan(0.1);
});

test('half a step of gain is a factor of the square root of two', () => {
  expect(meanChargeDn(world.rig, 6.5) / meanChargeDn(world.rig, 6)).toBeCloseTo(Math.SQRT2, 9);
  expect(meanChargeDn(world.rig, 8) / meanChargeDn(world.rig, 1)).toBeCloseTo(128, 9);
});
