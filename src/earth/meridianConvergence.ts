import { DEG_PER_RAD } from '../maths/angle.ts';
import { llhFromProjected, projectedFromLlh } from './projected.ts';

/**
 * The direction of grid north at a place, clockwise from true north, degrees: true heading = grid heading + convergence.
 * By a difference of 100 m along the grid; accuracy 1e-5 degrees, far below what any heading is known to.
 * @param code a projected system, e.g. "EPSG:25833"
 * @throws InputError for a system that is not offered
 */
export function meridianConvergenceDeg(code: string, lonDeg: number, latDeg: number): number {
  const [e, n] = projectedFromLlh(code, lonDeg, latDeg);
  const [lonA, latA] = llhFromProjected(code, e, n - 50);
  const [lonB, latB] = llhFromProjected(code, e, n + 50);
  // Radii of the ellipsoid across and along the meridian, over one another (WGS 84).
  const sin2 = Math.sin(latDeg / DEG_PER_RAD) ** 2;
  const across = (1 - 0.00669437999014 * sin2) / (1 - 0.00669437999014);
  return Math.atan2((lonB - lonA) * Math.cos(latDeg / DEG_PER_RAD) * across, latB - latA) * DEG_PER_RAD;
}
