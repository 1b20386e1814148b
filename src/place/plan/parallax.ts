/**
 * How far two cameras side by side, whose images are laid over each other at one range, disagree at another, pixels:
 * positive nearer than that range. `rangeM` may be infinite. Source: the plane-induced shift of Hartley & Zisserman,
 * Multiple View Geometry, 2nd ed., 13.2, for a baseline across the view.
 */
export const parallaxPx = (focalPx: number, baselineM: number, rangeM: number, alignedM: number): number =>
  focalPx * baselineM * (1 / rangeM - 1 / alignedM);

/** How well a range must be known for the overlay to keep within `tolerancePx`, metres, to first order. */
export const rangeNeededM = (focalPx: number, baselineM: number, rangeM: number, tolerancePx: number): number =>
  (rangeM * rangeM * tolerancePx) / (focalPx * baselineM);
