/** Values on a regular grid, row by row; node (i, j) is at column i, row j. */
export interface ScalarGrid {
  readonly columns: number;
  readonly rows: number;
  readonly values: Float64Array;
}

/** A line of one level, in grid units (column, row) by turns. Closed lines repeat their first point at the end. */
export interface ContourLine {
  readonly level: number;
  readonly closed: boolean;
  readonly points: Float64Array;
}

/**
 * Lines of equal value by marching squares, with linear interpolation along cell edges; where a cell is a saddle, the
 * mean of its corners decides, so that lines never cross. Lines end only at the border of the grid. Higher values lie
 * on the left hand of whoever walks along the line on a page whose y points down.
 * @param grid  at least 2 x 2 nodes, all values finite
 * @param level value to follow; a node exactly on it counts as above
 * @returns lines in the order of their first cell, row by row, so equal input gives equal output
 * Accuracy: of second order in the grid step. Source: Lorensen & Cline 1987 in two dimensions (from memory).
 */
export function contourLines(grid: ScalarGrid, level: number): ContourLine[] {
  const { columns, rows, values } = grid;
  // Every crossing lies on one edge of the grid, so an edge's number names a point without comparing floats:
  // 2 * node for the edge to the right of a node, 2 * node + 1 for the edge below it.
  const nextOf = new Map<number, number>();
  const hasPrevious = new Set<number>();
  const link = (from: number, to: number) => {
    nextOf.set(from, to);
    hasPrevious.add(to);
  };
  for (let j = 0; j + 1 < rows; j++)
    for (let i = 0; i + 1 < columns; i++) {
      const node = j * columns + i;
      const a = values[node]!;
      const b = values[node + 1]!;
      const c = values[node + columns + 1]!;
      const d = values[node + columns]!;
      const mask = (a >= level ? 1 : 0) | (b >= level ? 2 : 0) | (c >= level ? 4 : 0) | (d >= level ? 8 : 0);
      const top = 2 * node;
      const left = 2 * node + 1;
      const right = 2 * (node + 1) + 1;
      const bottom = 2 * (node + columns);
      const highCentre = (a + b + c + d) / 4 >= level;
      switch (mask) {
        case 1:
          link(left, top);
          break;
        case 2:
          link(top, right);
          break;
        case 3:
          link(left, right);
          break;
        case 4:
          link(right, bottom);
          break;
        case 5:
          link(left, highCentre ? bottom : top);
          link(right, highCentre ? top : bottom);
          break;
        case 6:
          link(top, bottom);
          break;
        case 7:
          link(left, bottom);
          break;
        case 8:
          link(bottom, left);
          break;
        case 9:
          link(bottom, top);
          break;
        case 10:
          link(top, highCentre ? left : right);
          link(bottom, highCentre ? right : left);
          break;
        case 11:
          link(bottom, right);
          break;
        case 12:
          link(right, left);
          break;
        case 13:
          link(right, top);
          break;
        case 14:
          link(top, left);
          break;
      }
    }

  const pointOf = (edge: number): [number, number] => {
    const node = edge >> 1;
    const step = edge & 1 ? columns : 1;
    const low = values[node]!;
    const t = (level - low) / (values[node + step]! - low);
    const i = node % columns;
    const j = (node - i) / columns;
    return edge & 1 ? [i, j + t] : [i + t, j];
  };
  const lines: ContourLine[] = [];
  const done = new Set<number>();
  const follow = (start: number) => {
    const points: number[] = [];
    let edge: number | undefined = start;
    while (edge !== undefined && !done.has(edge)) {
      done.add(edge);
      points.push(...pointOf(edge));
      edge = nextOf.get(edge);
    }
    const closed = edge === start;
    if (closed) points.push(points[0]!, points[1]!);
    lines.push({ level, closed, points: Float64Array.from(points) });
  };
  for (const start of nextOf.keys()) if (!hasPrevious.has(start)) follow(start);
  for (const start of nextOf.keys()) if (!done.has(start)) follow(start);
  return lines;
}
