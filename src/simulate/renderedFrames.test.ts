import { mkdirSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { benchCamera } from './benchCamera.ts';
import { benchExposures, benchTruth } from './benchExposures.ts';
import { rawFileName } from './chunks.ts';
import { inventWorld } from './inventWorld.ts';
import { type Canvas, paintTube } from './paintStroke.ts';
import { renderUvChunk } from './renderUvChunk.ts';
import { ARRIVAL_BLUR_PX } from './Spots.ts';
import { flightExposures } from './uvSpots.ts';

const world = inventWorld(1);
let folder = '';
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'invented-'));
  mkdirSync(join(folder, 'flight', 'uv'), { recursive: true });
});
afterAll(() => rmSync(folder, { recursive: true }));

test('frames have the same bytes whether rendered as one chunk or cut into two', () => {
  const chunk = (number: number, from: number, to: number) =>
    renderUvChunk(world, folder, { part: 'flight', stream: 'uv', number, from, to }, () => undefined);
  const bytes = (number: number) => readFileSync(join(folder, 'flight', rawFileName(number)));
  // Around frame 840 the strongest source is in view: the afterglow of the frame before a cut must come over it.
  expect(flightExposures(world)(840).spots.count).toBeGreaterThan(15);
  chunk(1, 838, 844);
  chunk(2, 838, 841);
  chunk(3, 841, 844);
  expect(bytes(1).length).toBe(6 * 640 * 512);
  expect(Buffer.concat([bytes(2), bytes(3)]).equals(bytes(1))).toBe(true);
});

test('lamps of the bench gather about their true pixel', () => {
  const exposureOf = benchExposures(world);
  const truth = benchTruth(world);
  for (const frame of [10, 150, 260, 380, 500]) {
    const { spots } = exposureOf(frame);
    world.bench.marks.forEach((mark, m) => {
      const row = truth.find((t) => t.frame === frame && t.mark === mark.id)!;
      const own = Array.from({ length: spots.count }, (_, i) => i).filter((i) => spots.source[i] === m);
      if (!row.uvPx || own.length === 0) return;
      const x = own.reduce((sum, i) => sum + spots.xPx[i]!, 0) / own.length;
      const y = own.reduce((sum, i) => sum + spots.yPx[i]!, 0) / own.length;
      // Blur and up to 1.5 px of motion in the exposure, spread over its events.
      const sigma = Math.hypot(ARRIVAL_BLUR_PX, 0.5) / Math.sqrt(own.length);
      expect(Math.hypot(x - row.uvPx[0], y - row.uvPx[1])).toBeLessThan(5 * sigma);
    });
  }
});

test('a disc of the bench is painted where its middle truly is', async () => {
  const take = await benchCamera(world);
  const truth = benchTruth(world);
  const { widthPx } = world.rig.colourLens;
  for (const frame of [4, 140]) {
    const rgb = take(frame);
    for (const row of truth.filter((t) => t.frame === frame && t.colourPx)) {
      const [u, v] = row.colourPx!;
      const reach = Math.ceil((0.55 * 0.12 * 1500) / row.rangeM) + 2;
      if (u < reach || v < reach || u > widthPx - reach || v > 1023 - reach) continue;
      let [sum, x, y] = [0, 0, 0];
      for (let j = Math.round(v) - reach; j <= Math.round(v) + reach; j++) {
        for (let i = Math.round(u) - reach; i <= Math.round(u) + reach; i++) {
          const level = Math.max(0, rgb[3 * (j * widthPx + i)]! - 110);
          sum += level;
          x += level * i;
          y += level * j;
        }
      }
      // The lamp-lit board is 25 % brighter a metre upwards: 0.04 px over a disc at 8 m, twice that above the threshold.
      expect(Math.hypot(x / sum - u, y / sum - v)).toBeLessThan(0.25);
    }
  }
});

test('a wire thinner than a pixel lies on its line and is as dark as it is thick', () => {
  const canvas: Canvas = { rgb: new Uint8ClampedArray(3 * 80 * 60), widthPx: 80, heightPx: 60 };
  const white = { red: 200, green: 200, blue: 200, facing: 1, sideways: 0 };
  // Two pieces joined at x = 40, as a catenary is: no bead at the joint.
  paintTube(canvas, -5, 10.3, 40, 28.3, 0.3, white, false);
  paintTube(canvas, 40, 28.3, 85, 46.3, 0.3, white, false);
  const columns = Array.from({ length: 80 }, (_, x) => {
    let [sum, moment] = [0, 0];
    for (let y = 0; y < 60; y++) {
      sum += canvas.rgb[3 * (y * 80 + x)]!;
      moment += y * canvas.rgb[3 * (y * 80 + x)]!;
    }
    expect(Math.abs(moment / sum - (10.3 + 0.4 * (x + 5)))).toBeLessThan(0.1); // the soft edge is sampled at whole pixels
    return sum;
  });
  // Width 0.6 px across, so 0.6 / cos(21.8 degrees) down a column, darkened at its sides by the shading.
  const mean = columns.reduce((a, b) => a + b, 0) / 80;
  expect(mean / 200).toBeGreaterThan(0.45);
  expect(mean / 200).toBeLessThan(0.66);
  for (const sum of columns) expect(Math.abs(sum / mean - 1)).toBeLessThan(0.12);
});
