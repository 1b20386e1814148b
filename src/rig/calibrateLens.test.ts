import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import type { Lens } from '../camera/Lens.ts';
import { undistort } from '../camera/rayFromPixel.ts';
import { cauchy } from '../maths/robustLoss.ts';
import { vectorFromRotation } from '../maths/rotation.ts';
import { distance, type Vec3 } from '../maths/vec3.ts';
import { calibrateLens, type LensCalibration, type TargetView } from './calibrateLens.ts';
import { calibratePair } from './calibratePair.ts';
import { lensFromVector, lensVector } from './lensDerivative.ts';

interface OpenCvLens {
  rmsPx: number;
  lens: number[];
  sigma: number[];
}
interface OpenCvPair {
  rmsPx: number;
  left: number[];
  right: number[];
  rotationVectorRad: number[];
  translationMm: number[];
}
// The corners of OpenCV's sample pairs and OpenCV 4.6.0's own optimum for them: scripts/opencv-corners.py.
const board = JSON.parse(
  readFileSync(new URL('../../tests/fixtures/opencv-chessboard/corners.json', import.meta.url), 'utf8'),
) as {
  widthPx: number;
  heightPx: number;
  columns: number;
  rows: number;
  squareMm: number;
  views: { name: string; left: number[]; right: number[] }[];
  opencv: { left: OpenCvLens; right: OpenCvLens; pairLensesHeld: OpenCvPair; pairAllFree: OpenCvPair };
};

const targetM: Vec3[] = Array.from({ length: board.columns * board.rows }, (_, i) => [
  ((i % board.columns) * board.squareMm) / 1000,
  (Math.floor(i / board.columns) * board.squareMm) / 1000,
  0,
]);
const viewsOf = (side: 'left' | 'right'): TargetView[] =>
  board.views.map((v) => ({
    name: `${side}${v.name}`,
    px: targetM.map((_, i) => [v[side][2 * i], v[side][2 * i + 1]] as const),
  }));

function calibrated(side: 'left' | 'right'): LensCalibration {
  const outcome = calibrateLens(targetM, viewsOf(side), board);
  if (outcome.kind === 'refused') throw new Error(outcome.because);
  return outcome;
}

/** Largest difference of the pixels that two lenses give to the directions of a grid over the image of the first. */
function largestGapPx(a: Lens, b: Lens): number {
  let worst = 0;
  for (let u = 0; u <= 639; u += 71)
    for (let v = 0; v <= 479; v += 53) {
      const inA = undistort([u, v], a)!;
      const inB = undistort([u, v], b)!;
      worst = Math.max(worst, Math.hypot((inA[0] - inB[0]) * a.fxPx, (inA[1] - inB[1]) * a.fyPx));
    }
  return worst;
}

test.each(['left', 'right'] as const)('the %s lens of the sample pairs is the one that OpenCV 4.6.0 finds', (side) => {
  const ours = calibrated(side);
  const theirs = board.opencv[side];
  // Same corners, same model, same least squares: what is left is where each search stopped, and corners kept to 1e-5 px.
  expect(Math.abs(ours.rmsPx / theirs.rmsPx - 1)).toBeLessThan(1e-5);
  const v = lensVector(ours.lens);
  for (let i = 0; i < 4; i++) expect(Math.abs(v[i] - theirs.lens[i])).toBeLessThan(0.005);
  for (let i = 4; i < 9; i++) expect(Math.abs(v[i] - theirs.lens[i])).toBeLessThan(0.02 * theirs.sigma[i]);
  expect(largestGapPx(ours.lens, lensFromVector(theirs.lens, board))).toBeLessThan(0.01);
});

test("the stated standard deviations are OpenCV's own, but for its count of degrees of freedom", () => {
  // OpenCV 4.6.0 divides the squared sum by points minus parameters; two coordinates a point are what was observed.
  const points = 13 * 54;
  const parameters = 9 + 6 * 13;
  const countedAsOpenCv = Math.sqrt((2 * points - parameters) / (points - parameters));
  const { sigma } = calibrated('left');
  for (let i = 0; i < 9; i++)
    expect(Math.abs((sigma[i] * countedAsOpenCv) / board.opencv.left.sigma[i] - 1)).toBeLessThan(1e-3);
});

test("the left lens meets the values in OpenCV's own regression test within its tolerance", () => {
  // modules/python/test/test_calibration.py: RMS 0.196334638034 +- 0.01 and the matrix below, made with other corners.
  const { lens, rmsPx, sigma } = calibrated('left');
  expect(Math.abs(rmsPx - 0.196334638034)).toBeLessThan(0.01);
  const published = [532.80990646, 532.93344713, 342.49522219, 233.88792491];
  for (let i = 0; i < 4; i++) expect(Math.abs(lensVector(lens)[i] - published[i])).toBeLessThan(sigma[i]);
});

test.each([
  ['lenses held', true, 'pairLensesHeld'],
  ['all free', false, 'pairAllFree'],
] as const)('the pose of the pair is the one that OpenCV 4.6.0 finds, %s', (_, holdLenses, key) => {
  const { left, right } = board.opencv;
  const rights = viewsOf('right');
  const ours = calibratePair(
    targetM,
    viewsOf('left').map((first, i) => ({ first, second: rights[i] })),
    [lensFromVector(left.lens, board), lensFromVector(right.lens, board)],
    { holdLenses },
  );
  if (ours.kind === 'refused') throw new Error(ours.because);
  const theirs = board.opencv[key];
  expect(Math.abs(ours.rmsPx / theirs.rmsPx - 1)).toBeLessThan(1e-5);
  const tMm = ours.secondFromFirst.translation.map((x) => 1000 * x) as unknown as Vec3;
  expect(distance(tMm, theirs.translationMm as unknown as Vec3)).toBeLessThan(0.05);
  const turn = vectorFromRotation(ours.secondFromFirst.rotation);
  // 0.001 degree is 0.01 px at this focal length.
  expect(distance(turn, theirs.rotationVectorRad as unknown as Vec3)).toBeLessThan(0.001 * (Math.PI / 180));
  expect(largestGapPx(ours.first, lensFromVector(theirs.left, board))).toBeLessThan(0.02);
  expect(largestGapPx(ours.second, lensFromVector(theirs.right, board))).toBeLessThan(0.02);
});

test('a robust fit gives little weight to a view whose corners were moved, and keeps the lens', () => {
  const views = viewsOf('left').map((v) =>
    v.name === 'left05' ? { ...v, px: v.px.map(([u, w], i) => [u + (i % 3) - 1, w + 3 * (i % 2)] as const) } : v,
  );
  const robust = calibrateLens(targetM, views, board, { loss: cauchy(0.3) });
  if (robust.kind === 'refused') throw new Error(robust.because);
  const worst = [...robust.viewRmsPx].sort((a, b) => b.rmsPx - a.rmsPx)[0];
  expect(worst.name).toBe('left05');
  const clean = calibrated('left');
  for (let i = 0; i < 4; i++)
    expect(Math.abs(lensVector(robust.lens)[i] - lensVector(clean.lens)[i])).toBeLessThan(2 * clean.sigma[i]);
});
