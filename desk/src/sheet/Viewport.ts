/** A window onto a plane in metres: x to the right, y up. `stretch` is how much taller than true heights are drawn. */
export interface Viewport {
  readonly centreX: number;
  readonly centreY: number;
  readonly pxPerM: number;
  readonly stretch: number;
  /** Scale of heights in the fitted view; 0 where heights are never stretched. */
  readonly heightPxPerM: number;
  readonly widthPx: number;
  readonly heightPx: number;
}

export interface Bounds {
  readonly minX: number;
  readonly maxX: number;
  readonly minY: number;
  readonly maxY: number;
}

/** 4 mm a pixel at the least, so that a decimetre is 25 px and more; 200 m a pixel at the most. */
const MOST_PX_PER_M = 400;
const LEAST_PX_PER_M = 0.005;

const MOST_STRETCH = 8;
/** Heights keep the scale that the fitted view gave them until the lengths have caught up; from there on both are true. */
const stretchAt = (pxPerM: number, heightPxPerM: number): number =>
  Math.min(MOST_STRETCH, Math.max(1, heightPxPerM / pxPerM));

/** The subtraction comes first, in float64: two numbers of kilometres leave the millimetres between them. */
export const screenX = (view: Viewport, x: number): number => (x - view.centreX) * view.pxPerM + view.widthPx / 2;
export const screenY = (view: Viewport, y: number): number =>
  (view.centreY - y) * view.pxPerM * view.stretch + view.heightPx / 2;
export const worldX = (view: Viewport, px: number): number => view.centreX + (px - view.widthPx / 2) / view.pxPerM;
export const worldY = (view: Viewport, px: number): number =>
  view.centreY - (px - view.heightPx / 2) / (view.pxPerM * view.stretch);

export const shownBounds = (view: Viewport, marginPx = 0): Bounds => ({
  minX: worldX(view, -marginPx),
  maxX: worldX(view, view.widthPx + marginPx),
  minY: worldY(view, view.heightPx + marginPx),
  maxY: worldY(view, -marginPx),
});

export const panned = (view: Viewport, byXPx: number, byYPx: number): Viewport => ({
  ...view,
  centreX: view.centreX - byXPx / view.pxPerM,
  centreY: view.centreY + byYPx / (view.pxPerM * view.stretch),
});

/** Scaled by a factor; what lies under the pixel (atX, atY) stays there. */
export function zoomed(view: Viewport, factor: number, atX: number, atY: number): Viewport {
  const pxPerM = Math.min(MOST_PX_PER_M, Math.max(LEAST_PX_PER_M, view.pxPerM * factor));
  const next = { ...view, pxPerM, stretch: stretchAt(pxPerM, view.heightPxPerM) };
  return {
    ...next,
    centreX: worldX(view, atX) - (atX - view.widthPx / 2) / next.pxPerM,
    centreY: worldY(view, atY) + (atY - view.heightPx / 2) / (next.pxPerM * next.stretch),
  };
}

/** The largest view that shows the bounds with a margin round them. */
export function fitted(bounds: Bounds, widthPx: number, heightPx: number, stretches: boolean, marginPx = 48): Viewport {
  const width = Math.max(1, widthPx - 2 * marginPx);
  const height = Math.max(1, heightPx - 2 * marginPx);
  const spanX = Math.max(bounds.maxX - bounds.minX, 0.5);
  const spanY = Math.max(bounds.maxY - bounds.minY, 0.5);
  const pxPerM = Math.min(MOST_PX_PER_M, width / spanX, height / spanY);
  const heightPxPerM = stretches ? Math.min(height / spanY, MOST_STRETCH * pxPerM) : 0;
  return {
    centreX: (bounds.minX + bounds.maxX) / 2,
    centreY: (bounds.minY + bounds.maxY) / 2,
    pxPerM,
    stretch: stretchAt(pxPerM, heightPxPerM),
    heightPxPerM,
    widthPx,
    heightPx,
  };
}

export function boundsOf(points: Iterable<readonly [number, number]>): Bounds | null {
  let minX = Number.POSITIVE_INFINITY;
  let maxX = Number.NEGATIVE_INFINITY;
  let minY = Number.POSITIVE_INFINITY;
  let maxY = Number.NEGATIVE_INFINITY;
  for (const [x, y] of points) {
    minX = Math.min(minX, x);
    maxX = Math.max(maxX, x);
    minY = Math.min(minY, y);
    maxY = Math.max(maxY, y);
  }
  return minX <= maxX ? { minX, maxX, minY, maxY } : null;
}
