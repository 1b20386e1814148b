import { colourPxFromUv, uvPxFromColour } from './colourFromUv.ts';
import type { TwoCameraModel } from './Registration.ts';

export type TableDirection = 'colour from uv' | 'uv from colour';

/** Values at one node: u, v; their slope by inverse range (px m); half their curvature (px m²). */
export const TABLE_CHANNELS = 6;

/**
 * The mapping as a table over the pixels of one image, for processors that interpolate: at node (row, column), pixel
 * (column · stepPx, row · stepPx),
 *   pixel = value + slope · d + curvature · d²,  d = inverse range - inverseRangeAtPerM.
 * Nodes without a mapping are NaN.
 */
export interface LookUpTable {
  readonly direction: TableDirection;
  readonly stepPx: number;
  readonly rows: number;
  readonly columns: number;
  readonly inverseRangeAtPerM: number;
  /** Nearest range at which the table keeps its accuracy; it holds from there to infinity. */
  readonly nearestM: number;
  /** rows x columns x TABLE_CHANNELS. */
  readonly data: Float32Array;
}

/**
 * Builds the table. In inverse range the mapping bends a little (second order of the parallax, 1e-4 of it squared):
 * a parabola through three Chebyshev nodes of [0, 1 / nearestM] keeps it to 1e-4 px.
 * Accuracy with steps of 8 px: 0.01 px against the model (lookUpTable.test.ts), interpolating bilinearly.
 */
export function buildLookUpTable(
  model: TwoCameraModel,
  direction: TableDirection,
  nearestM: number,
  stepPx = 8,
): LookUpTable {
  const size = direction === 'colour from uv' ? model.uv : model.colour;
  const map = direction === 'colour from uv' ? colourPxFromUv : uvPxFromColour;
  // One node beyond the last pixel, so that every pixel lies between nodes.
  const columns = Math.ceil((size.widthPx - 1) / stepPx) + 1;
  const rows = Math.ceil((size.heightPx - 1) / stepPx) + 1;
  const middle = 1 / (2 * nearestM);
  const h = middle * Math.cos(Math.PI / 6);
  const data = new Float32Array(rows * columns * TABLE_CHANNELS).fill(Number.NaN);
  for (let row = 0; row < rows; row++)
    for (let column = 0; column < columns; column++) {
      const u = column * stepPx;
      const v = row * stepPx;
      const far = map(model, u, v, middle - h);
      const at = map(model, u, v, middle);
      const near = map(model, u, v, middle + h);
      if (!far || !at || !near) continue;
      const k = (row * columns + column) * TABLE_CHANNELS;
      for (const axis of [0, 1] as const) {
        data[k + axis] = at[axis];
        data[k + 2 + axis] = (near[axis] - far[axis]) / (2 * h);
        data[k + 4 + axis] = (near[axis] - 2 * at[axis] + far[axis]) / (2 * h * h);
      }
    }
  return { direction, stepPx, rows, columns, inverseRangeAtPerM: middle, nearestM, data };
}

/** Reads the table, bilinearly between nodes; null outside it and where a node around is NaN. */
export function lookUp(table: LookUpTable, u: number, v: number, inverseRangePerM: number): [number, number] | null {
  const x = u / table.stepPx;
  const y = v / table.stepPx;
  const column = Math.min(Math.floor(x), table.columns - 2);
  const row = Math.min(Math.floor(y), table.rows - 2);
  if (column < 0 || row < 0 || x > table.columns - 1 || y > table.rows - 1) return null;
  const d = inverseRangePerM - table.inverseRangeAtPerM;
  const out: [number, number] = [0, 0];
  for (const j of [0, 1])
    for (const i of [0, 1]) {
      const weight = (i === 0 ? column + 1 - x : x - column) * (j === 0 ? row + 1 - y : y - row);
      const k = ((row + j) * table.columns + column + i) * TABLE_CHANNELS;
      for (const axis of [0, 1] as const)
        out[axis] += weight * (table.data[k + axis] + d * (table.data[k + 2 + axis] + d * table.data[k + 4 + axis]));
    }
  return Number.isNaN(out[0]) ? null : out;
}
