import { expect, test } from 'vitest';
import { contourLines, type ScalarGrid } from './contourLines.ts';

function gridOf(columns: number, rows: number, f: (x: number, y: number) => number): ScalarGrid {
  const values = new Float64Array(columns * rows);
  for (let j = 0; j < rows; j++) for (let i = 0; i < columns; i++) values[j * columns + i] = f(i, j);
  return { columns, rows, values };
}

/** Twice the enclosed area, positive where the line runs clockwise on a page whose y points down. */
function doubleArea(points: Float64Array): number {
  let sum = 0;
  for (let k = 0; k + 3 < points.length; k += 2) sum += points[k]! * points[k + 3]! - points[k + 2]! * points[k + 1]!;
  return sum;
}

test('the contour of a Gaussian at a share p of its peak is a circle of radius sigma times the root of 2 ln 1/p', () => {
  const sigma = 6.5;
  const [cx, cy] = [31.3, 24.8];
  const grid = gridOf(64, 52, (x, y) => Math.exp(-((x - cx) ** 2 + (y - cy) ** 2) / (2 * sigma ** 2)));
  for (const share of [0.8, 0.5, 0.2, 0.1]) {
    const lines = contourLines(grid, share);
    expect(lines).toHaveLength(1);
    expect(lines[0]!.closed).toBe(true);
    const radius = sigma * Math.sqrt(2 * Math.log(1 / share));
    const { points } = lines[0]!;
    for (let k = 0; k < points.length; k += 2)
      // Linear interpolation errs by at most h^2/8 |f_xx| / |f'| with h = 1; for these radii that is 0.033 at the worst.
      expect(Math.abs(Math.hypot(points[k]! - cx, points[k + 1]! - cy) - radius)).toBeLessThan(0.034);
  }
});

test('a plane is cut in one straight line from border to border, exactly', () => {
  const lines = contourLines(
    gridOf(9, 7, (x, y) => 2 * x + 3 * y),
    13,
  );
  expect(lines).toHaveLength(1);
  expect(lines[0]!.closed).toBe(false);
  const { points } = lines[0]!;
  for (let k = 0; k < points.length; k += 2) expect(2 * points[k]! + 3 * points[k + 1]!).toBeCloseTo(13, 12);
});

test('higher ground is on the left hand all the way round: hills run anticlockwise, hollows the other way', () => {
  const hill = gridOf(21, 21, (x, y) => -((x - 10) ** 2) - (y - 10) ** 2);
  const hollow = gridOf(21, 21, (x, y) => (x - 10) ** 2 + (y - 10) ** 2);
  expect(doubleArea(contourLines(hill, -30)[0]!.points)).toBeLessThan(0);
  expect(doubleArea(contourLines(hollow, 30)[0]!.points)).toBeGreaterThan(0);
});

test.each([
  ['a high centre joins the high corners', 0.6],
  ['a low centre parts them', 0.4],
])('in a saddle %s, and no two lines cross', (_claim, high) => {
  const grid: ScalarGrid = { columns: 2, rows: 2, values: Float64Array.from([high + 0.4, 0, 0, high + 0.4]) };
  const lines = contourLines(grid, 0.45);
  expect(lines).toHaveLength(2);
  const middles = lines.map(({ points }) => [(points[0]! + points[2]!) / 2, (points[1]! + points[3]!) / 2]);
  // Joined: the two lines cut off the low corners (top right, bottom left). Parted: the high ones.
  const sides = middles.map(([x, y]) => x! > 0.5 === y! > 0.5);
  expect(sides).toEqual(high === 0.6 ? [false, false] : [true, true]);
});

test('a node exactly on the level breaks no line', () => {
  const lines = contourLines(
    gridOf(9, 9, (x, y) => 4 - Math.max(Math.abs(x - 4), Math.abs(y - 4))),
    2,
  );
  expect(lines).toHaveLength(1);
  expect(lines[0]!.closed).toBe(true);
});
