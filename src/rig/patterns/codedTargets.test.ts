import { createRequire } from 'node:module';
import { afterAll, expect, test } from 'vitest';
import { applyHomography } from '../homography.ts';
import { codedBoardFinder, codedMarkerFinder } from './codedTargets.ts';
import { drawnPattern } from './drawnPattern.fixture.ts';
import type { OpenCv } from './OpenCv.ts';

const cv = (await createRequire(import.meta.url)('@techstark/opencv-js')) as OpenCv;
const closing: (() => void)[] = [];
afterAll(() => {
  for (const close of closing) close();
});

/** The bits of a marker of a dictionary, from OpenCV itself; true is bright. With its dark border. */
function bitsOf(number: number, bits: number): (x: number, y: number) => boolean {
  const side = bits + 2;
  const words = cv.getPredefinedDictionary(cv.DICT_4X4_50);
  const image = new cv.Mat();
  words.generateImageMarker(number, side, image, 1);
  const data = image.data.slice();
  image.delete();
  words.delete();
  return (x, y) => data[Math.floor(y * side) * side + Math.floor(x * side)] > 127;
}

const TILTED = [150, -18, 60, 14, 140, 45, 0.06, 0.09, 1] as const;

test('a coded marker is named, and its corners are right to a tenth of a pixel in a tilted view, seed 61', () => {
  const finder = codedMarkerFinder(cv, '4x4_50');
  closing.push(finder.close);
  const bright = bitsOf(17, 4);
  const found = finder.find(
    drawnPattern(TILTED, 61, (x, y) => (x >= 0 && y >= 0 && x < 1 && y < 1 && !bright(x, y) ? 35 : 200)),
  );
  expect(found.map((m) => m.number)).toEqual([17]);
  const corners = [
    [0, 0],
    [1, 0],
    [1, 1],
    [0, 1],
  ] as const;
  found[0].corners.forEach((corner, i) => {
    const [u, v] = applyHomography(TILTED, corners[i]);
    expect(Math.hypot(corner.u - u, corner.v - v)).toBeLessThan(0.1);
  });
});

test('corners of a coded board, half of it outside the picture, carry their own numbers and are right to 0.15 px, seed 62', () => {
  const [columns, rows] = [7, 5];
  const finder = codedBoardFinder(cv, { dictionary: '4x4_50', columns, rows, squareM: 0.1, markerM: 0.07 });
  closing.push(finder.close);
  // Markers sit in the bright squares, numbered row by row; the first square is dark.
  const markers = new Map<string, (x: number, y: number) => boolean>();
  for (let y = 0, n = 0; y < rows; y++)
    for (let x = 0; x < columns; x++) if ((x + y) % 2 === 1) markers.set(`${x},${y}`, bitsOf(n++, 4));
  const level = (x: number, y: number): number => {
    if (x < 0 || y < 0 || x >= columns || y >= rows) return 200;
    const marker = markers.get(`${Math.floor(x)},${Math.floor(y)}`);
    if (!marker) return 30;
    const [mx, my] = [(x - Math.floor(x) - 0.15) / 0.7, (y - Math.floor(y) - 0.15) / 0.7];
    return mx < 0 || my < 0 || mx >= 1 || my >= 1 || marker(mx, my) ? 200 : 30;
  };
  const view = [62, -5, 40, 6, 60, 20, 0.01, 0.012, 1] as const;
  const found = finder.find(drawnPattern(view, 62, level));
  let [seen, squares] = [0, 0];
  const bias = [0, 0];
  found.forEach((corner, i) => {
    const [u, v] = applyHomography(view, [1 + (i % 6), 1 + Math.floor(i / 6)]);
    if (u > 322 || v > 242) expect(corner).toBeNull();
    if (!corner) return;
    seen++;
    squares += (corner.u - u) ** 2 + (corner.v - v) ** 2;
    bias[0] += corner.u - u;
    bias[1] += corner.v - v;
  });
  expect(seen).toBeGreaterThan(6);
  expect(seen).toBeLessThan(24);
  expect(Math.sqrt(squares / seen)).toBeLessThan(0.15);
  // An older build puts every corner half a pixel down and right.
  expect(Math.hypot(bias[0], bias[1]) / seen).toBeLessThan(0.1);
});
