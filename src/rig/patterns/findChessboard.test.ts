import { readFileSync } from 'node:fs';
import sharp from 'sharp';
import { beforeAll, expect, test } from 'vitest';
import { distance, type Vec3 } from '../../maths/vec3.ts';
import { calibrateLens, type TargetView } from '../calibrateLens.ts';
import { calibratePair } from '../calibratePair.ts';
import { applyHomography } from '../homography.ts';
import { lensVector } from '../lensDerivative.ts';
import { drawnPattern } from './drawnPattern.fixture.ts';
import { findChessboard } from './findChessboard.ts';
import type { GreyImage } from './GreyImage.ts';

const FIXTURES = new URL('../../../tests/fixtures/opencv-chessboard/', import.meta.url);
// OpenCV's own corners of its sample pairs and its own calibration of them: scripts/opencv-corners.py.
const opencv = JSON.parse(readFileSync(new URL('corners.json', FIXTURES), 'utf8')) as {
  widthPx: number;
  heightPx: number;
  columns: number;
  rows: number;
  squareMm: number;
  views: { name: string; left: number[]; right: number[] }[];
  opencv: Record<'left' | 'right', { rmsPx: number; lens: number[]; sigma: number[] }> & {
    pairAllFree: { rmsPx: number; translationMm: number[] };
  };
};
const board: Vec3[] = Array.from({ length: 54 }, (_, i) => [
  ((i % 9) * opencv.squareMm) / 1000,
  (Math.floor(i / 9) * opencv.squareMm) / 1000,
  0,
]);

const seen: Record<'left' | 'right', TargetView[]> = { left: [], right: [] };
beforeAll(async () => {
  for (const side of ['left', 'right'] as const)
    for (const { name } of opencv.views) {
      const { data, info } = await sharp(readFileSync(new URL(`${side}${name}.jpg`, FIXTURES)))
        .greyscale()
        .raw()
        .toBuffer({ resolveWithObject: true });
      const image: GreyImage = { widthPx: info.width, heightPx: info.height, grey: new Uint8Array(data) };
      const found = findChessboard(image, { columns: 9, rows: 6, squarePx: 30, firstSquare: 'dark' });
      if (found.kind === 'refused') throw new Error(`${side}${name}: ${found.because}`);
      seen[side].push({ name: side + name, px: found.corners.map((c) => [c!.u, c!.v] as const) });
    }
});

test("every corner of OpenCV's 26 sample pictures is where OpenCV 4.6.0 refines it to", () => {
  for (const side of ['left', 'right'] as const)
    opencv.views.forEach((view, k) => {
      const ours = seen[side][k].px;
      // The two number boards from either end; which one is no matter of position.
      const squares = (order: (i: number) => number): number =>
        ours.reduce((sum, [u, v], i) => {
          const j = order(i);
          return sum + (u - view[side][2 * j]) ** 2 + (v - view[side][2 * j + 1]) ** 2;
        }, 0);
      const rms = Math.sqrt(
        Math.min(
          squares((i) => i),
          squares((i) => 53 - i),
        ) / 54,
      );
      // OpenCV stops at steps of 0.1 px (its own setting of the sample), ours at 0.003.
      expect(rms).toBeLessThan(0.03);
    });
});

test.each(['left', 'right'] as const)("our corners calibrate the %s lens as OpenCV's own do", (side) => {
  const ours = calibrateLens(board, seen[side], opencv);
  if (ours.kind === 'refused') throw new Error(ours.because);
  const theirs = opencv.opencv[side];
  expect(Math.abs(ours.rmsPx / theirs.rmsPx - 1)).toBeLessThan(0.01);
  lensVector(ours.lens).forEach((value, i) => {
    expect(Math.abs(value - theirs.lens[i])).toBeLessThan(theirs.sigma[i]);
  });
});

test("our corners give the pair the pose that OpenCV's own do, within half a millimetre", () => {
  const lenses = (['left', 'right'] as const).map((side) => {
    const outcome = calibrateLens(board, seen[side], opencv);
    if (outcome.kind === 'refused') throw new Error(outcome.because);
    return outcome.lens;
  });
  const ours = calibratePair(
    board,
    seen.left.map((first, i) => ({ first, second: seen.right[i] })),
    [lenses[0], lenses[1]],
    { holdLenses: false },
  );
  if (ours.kind === 'refused') throw new Error(ours.because);
  const theirs = opencv.opencv.pairAllFree;
  expect(Math.abs(ours.rmsPx / theirs.rmsPx - 1)).toBeLessThan(0.01);
  const tMm = ours.secondFromFirst.translation.map((x) => 1000 * x) as unknown as Vec3;
  expect(distance(tMm, theirs.translationMm as unknown as Vec3)).toBeLessThan(0.5);
});

const drawn = (h: Parameters<typeof drawnPattern>[0], seed: number, covered?: (x: number, y: number) => boolean) =>
  drawnPattern(h, seed, (x, y) => {
    if (covered?.(x, y)) return 90;
    if (x <= -1 || y <= -1 || x >= 7 || y >= 5) return 120;
    return (Math.floor(x) + Math.floor(y)) % 2 === 0 ? 40 : 190;
  });
const TURNED = [22, -4, 80, 5, 21, 60, 0.012, 0.009, 1] as const;
const SEARCH = { columns: 7, rows: 5, squarePx: 22 };

test('corners of a tilted board in noise of 2 grey levels are right to a twentieth of a pixel a coordinate, with no bias, seeds 1 to 4', () => {
  const bias = [0, 0];
  let squares = 0;
  let n = 0;
  for (let seed = 1; seed <= 4; seed++) {
    const found = findChessboard(drawn(TURNED, seed), SEARCH);
    if (found.kind === 'refused') throw new Error(found.because);
    found.corners.forEach((corner, i) => {
      const [u, v] = applyHomography(TURNED, [i % 7, Math.floor(i / 7)]);
      bias[0] += corner!.u - u;
      bias[1] += corner!.v - v;
      squares += (corner!.u - u) ** 2 + (corner!.v - v) ** 2;
      n++;
    });
  }
  expect(n).toBe(140);
  expect(Math.sqrt(squares / (2 * n))).toBeLessThan(0.05);
  // Five standard errors of a mean of 140.
  expect(Math.hypot(bias[0] / n, bias[1] / n)).toBeLessThan((5 * 0.05) / Math.sqrt(140));
});

test('a board with a corner covered gives the others, each under its own number', () => {
  const found = findChessboard(
    drawn(TURNED, 5, (x, y) => Math.hypot(x - 4, y - 2) < 0.6),
    SEARCH,
  );
  if (found.kind === 'refused') throw new Error(found.because);
  expect(found.corners[18]).toBeNull();
  expect(found.corners.filter((c) => c !== null).length).toBeGreaterThanOrEqual(30);
  found.corners.forEach((corner, i) => {
    const [u, v] = applyHomography(TURNED, [i % 7, Math.floor(i / 7)]);
    if (corner) expect(Math.hypot(corner.u - u, corner.v - v)).toBeLessThan(0.3);
  });
});

test('a board cut by the border is refused, as its corners could be any, and a plain picture has none', () => {
  const cut = findChessboard(drawn([22, -4, -10, 5, 21, 60, 0.012, 0.009, 1], 6), SEARCH);
  expect(cut).toEqual({ kind: 'refused', because: 'the board is cut off or covered' });
  expect(findChessboard(drawn([22, -4, 800, 5, 21, 600, 0, 0, 1], 7), SEARCH).kind).toBe('refused');
});

/** Averaged over 3 x 3 three times: a blur of 1.4 px, 1 sigma. */
function blurred({ widthPx, heightPx, grey }: GreyImage): GreyImage {
  let from = Float64Array.from(grey);
  for (let pass = 0; pass < 3; pass++)
    from = from.map((level, at) => {
      const x = at % widthPx;
      if (x === 0 || x === widthPx - 1 || at < widthPx || at >= (heightPx - 1) * widthPx) return level;
      let sum = 0;
      for (const row of [at - widthPx, at, at + widthPx]) sum += from[row - 1] + from[row] + from[row + 1];
      return sum / 9;
    });
  return { widthPx, heightPx, grey: Uint8Array.from(from, Math.round) };
}

/** A board of squares of so many px, turned; where its corners are, and where they are found. */
function smallBoard(squarePx: number, seed: number, blurs = 1) {
  const [c, s] = [squarePx * Math.cos(0.3 + 0.03 * seed), squarePx * Math.sin(0.3 + 0.03 * seed)];
  const h = [c, -s, 60.3 + 0.37 * seed, 0.9 * s, 0.9 * c, 40.2 + 0.41 * seed, 0.002, 0.001, 1] as const;
  let picture = drawn(h, seed);
  for (let k = 0; k < blurs; k++) picture = blurred(picture);
  const found = findChessboard(picture, { ...SEARCH, squarePx });
  const missesPx =
    found.kind === 'refused'
      ? []
      : found.corners.flatMap((corner, i) => {
          const [u, v] = applyHomography(h, [i % 7, Math.floor(i / 7)]);
          return corner ? [Math.hypot(corner.u - u, corner.v - v)] : [];
        });
  return { found, missesPx };
}

test('corners of squares of 7 px in a picture blurred by 1.4 px are right to a tenth of a pixel a coordinate, seeds 1 to 4', () => {
  const misses = [1, 2, 3, 4].flatMap((seed) => smallBoard(7, seed).missesPx);
  expect(misses).toHaveLength(140);
  expect(Math.sqrt(misses.reduce((sum, m) => sum + m * m, 0) / 280)).toBeLessThan(0.1);
});

test('of squares of 4 to 6 px, blurred by 1.4 or 2 px, no corner is given that is wrong by 0.7 px, seeds 1 to 4', () => {
  for (const [squarePx, blurs] of [
    [4, 1],
    [5, 1],
    [6, 2],
  ])
    for (let seed = 1; seed <= 4; seed++)
      expect(Math.max(0, ...smallBoard(squarePx, seed, blurs).missesPx)).toBeLessThan(0.7);
});

test('a board whose corners lie off by turns, as those of blurred small squares do, is refused by name', () => {
  const h = [11, 0, 60, 0, 11, 60, 0, 0, 1] as const;
  // Every second row of corners is moved by 0.16 of a square: 1.8 px.
  const wavy = drawnPattern(h, 3, (x, y) => {
    if (x <= -1 || y <= -1 || x >= 7 || y >= 5) return 120;
    const moved = x - (Math.round(y) % 2 === 0 ? 0.08 : -0.08);
    return (Math.floor(moved) + Math.floor(y)) % 2 === 0 ? 40 : 190;
  });
  expect(findChessboard(wavy, { ...SEARCH, squarePx: 11 })).toEqual({
    kind: 'refused',
    because: 'too blurred, or its squares too small: corners do not lie where their neighbours say',
  });
});
