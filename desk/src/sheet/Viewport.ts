/** A window onto a plane in metres: x to the right, y up. `stretch` is how much taller than true heights are drawn. */
export interface Viewport {
  readonly centreX: number;
  readonly centreY: number;
  readonly pxPerM: number;
  readonly stretch: number;
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

/** Heights are drawn true from this scale on, and stretched below it where a view asks for it. */
const TRUE_FROM_PX_PER_M = 6;
const MOST_STRETCH = 8;
export const stretchAt = (pxPerM: number): number => Math.min(MOST_STRETCH, Math.max(1, TRUE_FROM_PX_PER_M / pxPerM));

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
export function zoomed(view: Viewport, factor: number, atX: number, atY: number, stretches: boolean): Viewport {
  const pxPerM = Math.min(MOST_PX_PER_M, Math.max(LEAST_PX_PER_M, view.pxPerM * factor));
  const next = { ...view, pxPerM, stretch: stretches ? stretchAt(pxPerM) : 1 };
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
  let pxPerM = Math.min(MOST_PX_PER_M, width / spanX);
  // The stretch falls as the scale grows, so the height is met by going down from the scale that fits the width.
  const tooTall = (scale: number) => spanY * scale * (stretches ? stretchAt(scale) : 1) > height;
  if (tooTall(pxPerM)) {
    let low = LEAST_PX_PER_M;
    let high = pxPerM;
    for (let i = 0; i < 60; i++) {
      const middle = Math.sqrt(low * high);
      if (tooTall(middle)) high = middle;
      else low = middle;
    }
    pxPerM = low;
  }
  return {
    centreX: (bounds.minX + bounds.maxX) / 2,
    centreY: (bounds.minY + bounds.maxY) / 2,
    pxPerM,
    stretch: stretches ? stretchAt(pxPerM) : 1,
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
