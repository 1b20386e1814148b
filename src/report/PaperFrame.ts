/** Where a point of a plane in metres (x right, y up) falls on a piece of paper in millimetres (y down). */
export interface PaperFrame {
  readonly widthMm: number;
  readonly heightMm: number;
  readonly mmPerM: number;
  readonly verticalMmPerM: number;
  xMm(xM: number): number;
  yMm(yM: number): number;
  /** The part of the plane that the paper shows. */
  readonly shownM: { readonly fromX: number; readonly toX: number; readonly fromY: number; readonly toY: number };
}

/** Extent of points given by turns as x, y; a lone point has no extent. */
export function extentOf(points: readonly number[]): { fromX: number; toX: number; fromY: number; toY: number } {
  let [fromX, toX, fromY, toY] = [Infinity, -Infinity, Infinity, -Infinity];
  for (let k = 0; k + 1 < points.length; k += 2) {
    fromX = Math.min(fromX, points[k]!);
    toX = Math.max(toX, points[k]!);
    fromY = Math.min(fromY, points[k + 1]!);
    toY = Math.max(toY, points[k + 1]!);
  }
  if (!(toX >= fromX)) throw new RangeError('extentOf: no points');
  return { fromX, toX, fromY, toY };
}

/**
 * Fits an extent into a piece of paper with a margin, at one scale for both directions unless heights are stretched.
 * The paper keeps its width; its height shrinks to what is needed, between `leastHeightMm` and `heightMm`.
 */
export function paperFrame(
  extentM: { fromX: number; toX: number; fromY: number; toY: number },
  paper: { widthMm: number; heightMm: number; leastHeightMm: number; marginMm: number; stretch?: number },
): PaperFrame {
  const { widthMm, marginMm } = paper;
  const stretch = paper.stretch ?? 1;
  const spanX = Math.max(extentM.toX - extentM.fromX, 1e-3);
  const spanY = Math.max(extentM.toY - extentM.fromY, 1e-3) * stretch;
  const mmPerM = Math.min((widthMm - 2 * marginMm) / spanX, (paper.heightMm - 2 * marginMm) / spanY);
  const heightMm = Math.min(paper.heightMm, Math.max(paper.leastHeightMm, spanY * mmPerM + 2 * marginMm));
  const verticalMmPerM = mmPerM * stretch;
  const centreX = (extentM.fromX + extentM.toX) / 2;
  const centreY = (extentM.fromY + extentM.toY) / 2;
  return {
    widthMm,
    heightMm,
    mmPerM,
    verticalMmPerM,
    xMm: (xM) => widthMm / 2 + (xM - centreX) * mmPerM,
    yMm: (yM) => heightMm / 2 - (yM - centreY) * verticalMmPerM,
    shownM: {
      fromX: centreX - widthMm / 2 / mmPerM,
      toX: centreX + widthMm / 2 / mmPerM,
      fromY: centreY - heightMm / 2 / verticalMmPerM,
      toY: centreY + heightMm / 2 / verticalMmPerM,
    },
  };
}

/**
 * The parts of a polyline whose segments touch the box around what the paper shows, as runs of points. A line of a
 * hundred spans has thousands of wires of which a sketch shows ten: the rest must not be drawn outside the paper.
 */
export function visibleRuns<P extends readonly [number, number, ...number[]]>(
  points: readonly P[],
  { fromX, toX, fromY, toY }: PaperFrame['shownM'],
): P[][] {
  if (points.length === 1) {
    const [x, y] = points[0]!;
    return x >= fromX && x <= toX && y >= fromY && y <= toY ? [[points[0]!]] : [];
  }
  const runs: P[][] = [];
  let open = false;
  for (let k = 1; k < points.length; k++) {
    const [a, b] = [points[k - 1]!, points[k]!];
    const touches =
      Math.max(a[0], b[0]) >= fromX &&
      Math.min(a[0], b[0]) <= toX &&
      Math.max(a[1], b[1]) >= fromY &&
      Math.min(a[1], b[1]) <= toY;
    if (!touches) open = false;
    else if (open) runs.at(-1)!.push(b);
    else {
      runs.push([a, b]);
      open = true;
    }
  }
  return runs;
}
