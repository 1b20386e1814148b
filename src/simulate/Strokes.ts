import type { Vec3 } from '../maths/vec3.ts';

/**
 * The hardware as strokes in space: tubes between two points, discs across an axis, bushes. Eleven numbers a stroke:
 * from (3), to (3), radius m, red, green, blue, shape.
 */
export interface Strokes {
  readonly rows: number[];
}

export const STROKE_LENGTH = 11;
export const SHAPE = { tube: 0, rod: 1, disc: 2, bush: 3 } as const;
export type Shape = keyof typeof SHAPE;
export type Rgb = readonly [number, number, number];

/** Adds one stroke. `tube`: flat ends, to be joined; `rod`: round ends; `disc`: centre and a point on its axis; `bush`: centre twice. */
export function addStroke(strokes: Strokes, shape: Shape, from: Vec3, to: Vec3, radiusM: number, rgb: Rgb): void {
  strokes.rows.push(...from, ...to, radiusM, ...rgb, SHAPE[shape]);
}
