/**
 * How far the image of a fixed point runs during one exposure, pixels: by the camera's own way across the view, and by its
 * turn. To first order, for a point near the axis and motion across it.
 */
export const smearByWayPx = (focalPx: number, speedMps: number, exposureS: number, rangeM: number): number =>
  (focalPx * speedMps * exposureS) / rangeM;

export const smearByTurnPx = (focalPx: number, turnRadps: number, exposureS: number): number =>
  focalPx * turnRadps * exposureS;
