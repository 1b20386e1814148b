import type { SeenMark } from '../BenchObservations.ts';
import { applyHomography, homographyFromPoints } from '../homography.ts';
import { type ChessCorner, chessCorners } from './chessCorners.ts';
import { doubled, type GreyImage, greyAt, halved } from './GreyImage.ts';
import { refineCorner } from './refineCorner.ts';

export interface ChessboardSearch {
  /** Inner corners along x and along y. */
  readonly columns: number;
  readonly rows: number;
  /** About how long the side of a square is in the picture, px; within a factor of about 3. */
  readonly squarePx: number;
  /**
   * Of the square beyond the first corner. Where columns and rows are not both even or both odd, it tells the board from
   * itself upside down; left out, the board is taken to stand upright.
   */
  readonly firstSquare?: 'dark' | 'bright';
}

export type FoundChessboard =
  | {
      readonly kind: 'found';
      /** Row by row from the corner at the upper left of the board held upright; null where one is covered. */
      readonly corners: readonly (SeenMark | null)[];
    }
  | {
      readonly kind: 'refused';
      readonly because:
        | 'no corners'
        | 'no grid'
        | 'the board is cut off or covered'
        | 'too blurred, or its squares too small: corners do not lie where their neighbours say';
    };

/** More are only found in texture. */
const MOST_CORNERS = 1200;
/** A board of which less is seen could lie in the grid in more than one way. */
const LEAST_SHARE = 0.8;

/**
 * The inner corners of a chessboard, in order. Of the ways in which the board fits the picture, the one that stands
 * most upright is taken: its x axis points to the right, its y axis down.
 * Corners are joined along edges that are dark on one side and bright on the other all the way, which chessboards alone
 * have on both ways through every corner; the joined corners are numbered from neighbour to neighbour.
 */
export function findChessboard(image: GreyImage, search: ChessboardSearch): FoundChessboard {
  // Ring and edges want squares of 12 to 60 px.
  let [scaled, factor, offset] = [image, 1, 0];
  if (search.squarePx < 12) [scaled, factor, offset] = [doubled(image), 0.5, -0.25];
  for (let squarePx = search.squarePx; squarePx > 70; squarePx /= 2) {
    scaled = halved(scaled);
    offset += factor / 2;
    factor *= 2;
  }
  const candidates = chessCorners(scaled, MOST_CORNERS);
  if (candidates.length < 4) return { kind: 'refused', because: 'no corners' };
  const neighbours = joined(scaled, candidates);
  let best: Block | null = null;
  for (const grid of numberedGrids(candidates, neighbours)) {
    const block = bestBlock(grid, search);
    if (block && (!best || block.corners.length > best.corners.length)) best = block;
  }
  if (!best) return { kind: 'refused', because: 'no grid' };
  const { columns, rows } = search;
  if (best.corners.length < LEAST_SHARE * columns * rows || best.isAmbiguous)
    return { kind: 'refused', because: 'the board is cut off or covered' };
  const start: ([number, number] | null)[] = Array.from({ length: columns * rows }, () => null);
  for (const { index, corner } of best.corners) {
    const { x, y } = candidates[corner];
    start[index] = [factor * x + offset, factor * y + offset];
  }
  const corners = withoutStrays(refinedBoard(image, start, columns), columns);
  if (!corners)
    return {
      kind: 'refused',
      because: 'too blurred, or its squares too small: corners do not lie where their neighbours say',
    };
  if (search.firstSquare === undefined || (columns + rows) % 2 === 0) return { kind: 'found', corners };
  return {
    kind: 'found',
    corners: firstSquare(image, corners, columns) === search.firstSquare ? corners : corners.reverse(),
  };
}

/** Whether the square beyond the first corner is dark or bright: as is every second square within the corners. */
function firstSquare(image: GreyImage, corners: readonly (SeenMark | null)[], columns: number): 'dark' | 'bright' {
  let contrast = 0;
  for (let i = 0; i + columns + 1 < corners.length; i++) {
    const [column, row] = [i % columns, Math.floor(i / columns)];
    const [a, b] = [corners[i], corners[i + columns + 1]];
    if (column === columns - 1 || !a || !b) continue;
    const level = greyAt(image, (a.u + b.u) / 2, (a.v + b.v) / 2);
    contrast += (column + row) % 2 === 0 ? level - 128 : 128 - level;
  }
  return contrast > 0 ? 'bright' : 'dark';
}

/** For every corner the corners that an edge of the pattern leads to. */
function joined(image: GreyImage, corners: readonly ChessCorner[]): number[][] {
  const NEAREST = 10;
  return corners.map((a, i) =>
    corners
      .map((b, j) => ({ j, d: Math.hypot(b.x - a.x, b.y - a.y) }))
      .filter(({ j, d }) => j !== i && d > 5)
      .sort((p, q) => p.d - q.d)
      .slice(0, NEAREST)
      .filter(({ j }) => isEdge(image, a, corners[j]))
      .map(({ j }) => j),
  );
}

/** Dark on one side and bright on the other at every place between two corners. */
function isEdge(image: GreyImage, a: ChessCorner, b: ChessCorner): boolean {
  const [dx, dy] = [b.x - a.x, b.y - a.y];
  const length = Math.hypot(dx, dy);
  const away = Math.min(4, 0.25 * length);
  const [nx, ny] = [(-dy / length) * away, (dx / length) * away];
  let sign = 0;
  let least = Number.POSITIVE_INFINITY;
  let most = 0;
  for (const t of [0.2, 0.35, 0.5, 0.65, 0.8]) {
    const [x, y] = [a.x + t * dx, a.y + t * dy];
    const across = greyAt(image, x + nx, y + ny) - greyAt(image, x - nx, y - ny);
    if (sign !== 0 && Math.sign(across) !== sign) return false;
    sign = Math.sign(across);
    least = Math.min(least, Math.abs(across));
    most = Math.max(most, Math.abs(across));
  }
  return least > 12 && least > 0.35 * most;
}

interface Grid {
  /** Corner by place, the key made of the place's coordinates. */
  readonly places: ReadonlyMap<string, { readonly corner: number; readonly i: number; readonly j: number }>;
  /** Mean step of one place along i and along j, px. */
  readonly stepI: readonly [number, number];
  readonly stepJ: readonly [number, number];
}

const key = (i: number, j: number): string => `${i},${j}`;

/** Every connected piece of the graph, numbered from one of its corners outwards. */
function* numberedGrids(corners: readonly ChessCorner[], neighbours: readonly number[][]): Generator<Grid> {
  const visited = new Set<number>();
  for (let seed = 0; seed < corners.length; seed++) {
    if (visited.has(seed) || neighbours[seed].length < 2) continue;
    const to = (from: number, j: number): [number, number] => [
      corners[j].x - corners[from].x,
      corners[j].y - corners[from].y,
    ];
    const e1 = to(seed, neighbours[seed][0]);
    // The second axis: the neighbour most square to the first.
    const square = neighbours[seed]
      .map((j) => to(seed, j))
      .map((v) => ({ v, sine: Math.abs(e1[0] * v[1] - e1[1] * v[0]) / (Math.hypot(...e1) * Math.hypot(...v)) }))
      .sort((p, q) => q.sine - p.sine)[0];
    if (square.sine < 0.3) continue;
    const places = new Map<string, { corner: number; i: number; j: number }>([
      [key(0, 0), { corner: seed, i: 0, j: 0 }],
    ]);
    const placed = new Set([seed]);
    const queue = [{ corner: seed, i: 0, j: 0, e1, e2: square.v }];
    const [sumI, sumJ] = [
      [0, 0],
      [0, 0],
    ];
    for (let head = 0; head < queue.length; head++) {
      const { corner, i, j, e1: a, e2: b } = queue[head];
      const det = a[0] * b[1] - a[1] * b[0];
      for (const next of neighbours[corner]) {
        if (placed.has(next)) continue;
        const v = to(corner, next);
        const p = (v[0] * b[1] - v[1] * b[0]) / det;
        const q = (a[0] * v[1] - a[1] * v[0]) / det;
        const alongI = Math.abs(p) > Math.abs(q);
        const [main, side] = alongI ? [p, q] : [q, p];
        // One step, not two, and along an axis.
        if (Math.abs(main) < 0.55 || Math.abs(main) > 1.6 || Math.abs(side) > 0.4 * Math.abs(main)) continue;
        const s = Math.sign(main);
        const [ni, nj] = alongI ? [i + s, j] : [i, j + s];
        if (places.has(key(ni, nj))) continue;
        places.set(key(ni, nj), { corner: next, i: ni, j: nj });
        placed.add(next);
        const step: [number, number] = [s * v[0], s * v[1]];
        const sum = alongI ? sumI : sumJ;
        sum[0] += step[0];
        sum[1] += step[1];
        queue.push({ corner: next, i: ni, j: nj, e1: alongI ? step : a, e2: alongI ? b : step });
      }
    }
    for (const corner of placed) visited.add(corner);
    if (places.size >= 4) yield { places, stepI: [sumI[0], sumI[1]], stepJ: [sumJ[0], sumJ[1]] };
  }
}

interface Block {
  readonly corners: readonly { readonly index: number; readonly corner: number }[];
  /** Another place of the block in the grid holds nearly as many corners. */
  readonly isAmbiguous: boolean;
}

/** The board's place in a grid: as it holds the most corners, of equals the most upright. */
function bestBlock({ places, stepI, stepJ }: Grid, search: ChessboardSearch): Block | null {
  const all = [...places.values()];
  const handed = Math.sign(stepI[0] * stepJ[1] - stepI[1] * stepJ[0]);
  // The four ways to turn the grid that do not show the board from behind.
  const turns: readonly (readonly [number, number, number, number])[] =
    handed > 0
      ? [
          [1, 0, 0, 1],
          [0, 1, -1, 0],
          [-1, 0, 0, -1],
          [0, -1, 1, 0],
        ]
      : [
          [0, 1, 1, 0],
          [1, 0, 0, -1],
          [0, -1, -1, 0],
          [-1, 0, 0, 1],
        ];
  return turns
    .map((t) => {
      const x = [t[0] * stepI[0] + t[1] * stepJ[0], t[0] * stepI[1] + t[1] * stepJ[1]];
      const y = [t[2] * stepI[0] + t[3] * stepJ[0], t[2] * stepI[1] + t[3] * stepJ[1]];
      const upright = x[0] / Math.hypot(x[0], x[1]) + y[1] / Math.hypot(y[0], y[1]);
      const turned = all.map(({ corner, i, j }) => ({ corner, x: t[0] * i + t[1] * j, y: t[2] * i + t[3] * j }));
      return { block: blockIn(turned, search), upright };
    })
    .sort((a, b) => b.block.corners.length - a.block.corners.length || b.upright - a.upright)[0].block;
}

function blockIn(
  turned: readonly { readonly corner: number; readonly x: number; readonly y: number }[],
  { columns, rows }: ChessboardSearch,
): Block {
  const range = (of: (p: { x: number; y: number }) => number, size: number): [number, number] => {
    const least = Math.min(...turned.map(of));
    const last = Math.max(...turned.map(of)) - size + 1;
    return [Math.min(least, last), Math.max(least, last)];
  };
  const [fromX, toX] = range((p) => p.x, columns);
  const [fromY, toY] = range((p) => p.y, rows);
  const within = (x0: number, y0: number) =>
    turned.filter((p) => p.x >= x0 && p.y >= y0 && p.x < x0 + columns && p.y < y0 + rows);
  const counts: { x0: number; y0: number; count: number }[] = [];
  for (let x0 = fromX; x0 <= toX; x0++)
    for (let y0 = fromY; y0 <= toY; y0++) counts.push({ x0, y0, count: within(x0, y0).length });
  counts.sort((a, b) => b.count - a.count);
  const { x0, y0, count } = counts[0];
  const corners = within(x0, y0).map((p) => ({ index: (p.y - y0) * columns + p.x - x0, corner: p.corner }));
  const rival = counts[1]?.count ?? 0;
  return { corners, isAmbiguous: count < columns * rows && count - rival < Math.min(columns, rows) / 2 };
}

/** Every corner refined in the full picture, missing ones looked for where the others say; null where there is none. */
function refinedBoard(
  image: GreyImage,
  start: readonly ([number, number] | null)[],
  columns: number,
): (SeenMark | null)[] {
  const halfOf = (index: number): number => {
    const here = start[index];
    let nearest = Number.POSITIVE_INFINITY;
    for (const other of [index - 1, index + 1, index - columns, index + columns]) {
      const there = start[other];
      if (here && there) nearest = Math.min(nearest, Math.hypot(here[0] - there[0], here[1] - there[1]));
    }
    // A window that holds a neighbour's edges is drawn towards it; one much smaller than the blur sees no corner.
    return Math.max(2, Math.min(5, Math.floor(0.6 * nearest)));
  };
  const first = start.map((at, index) => at && refineCorner(image, at[0], at[1], halfOf(index)));
  return first.map((seen, index) => {
    if (seen) return seen;
    const at = placeByNeighbours(first, index, columns);
    if (!at) return null;
    const [u, v] = at;
    const found = refineCorner(image, u, v, 3);
    return found && Math.hypot(found.u - u, found.v - v) < 1.5 ? found : null;
  });
}

/** Where the eight nearest of the others put a corner, by the plane that they make; null where they make none. */
function placeByNeighbours(
  corners: readonly (SeenMark | null)[],
  index: number,
  columns: number,
): readonly [number, number] | null {
  const placeOf = (k: number): readonly [number, number] => [k % columns, Math.floor(k / columns)];
  const [x, y] = placeOf(index);
  const around = corners
    .flatMap((seen, k) =>
      seen && k !== index ? [{ k, seen, d: Math.hypot(placeOf(k)[0] - x, placeOf(k)[1] - y) }] : [],
    )
    .sort((a, b) => a.d - b.d)
    .slice(0, 8);
  const plane = homographyFromPoints(
    around.map(({ k }) => placeOf(k)),
    around.map(({ seen }) => [seen.u, seen.v] as const),
  );
  return plane && applyHomography(plane, [x, y]);
}

/**
 * A corner this far from where its neighbours put it is none, px: in sharp pictures, squares of 4 px and contrasts of 60 grey levels included,
 * hardly any is, while in blurred ones up to a half are wrong by more.
 */
const STRAY_PX = 0.5;
/** The same as a share of a square: a lens bends the plane through near neighbours by a few hundredths of one. */
const STRAY_SHARE = 0.08;
/** Root mean square of the distances, in units of that limit, from which on no corner of the board is to be trusted. */
const MOST_STRAY_RMS = 0.6;

/** The corners without those that their neighbours contradict; null where that is so of many. */
function withoutStrays(corners: readonly (SeenMark | null)[], columns: number): (SeenMark | null)[] | null {
  let [squares, count] = [0, 0];
  const kept = corners.map((seen, index) => {
    const at = seen && placeByNeighbours(corners, index, columns);
    if (!at) return seen;
    const beside = corners[index % columns === 0 ? index + 1 : index - 1];
    const squarePx = beside ? Math.hypot(beside.u - seen.u, beside.v - seen.v) : 0;
    const stray = Math.hypot(at[0] - seen.u, at[1] - seen.v) / Math.max(STRAY_PX, STRAY_SHARE * squarePx);
    squares += stray * stray;
    count++;
    return stray > 1 ? null : seen;
  });
  return squares > MOST_STRAY_RMS ** 2 * count ? null : kept;
}
