import { DEG_PER_RAD, wrapDeg360 } from '../maths/angle.ts';
import { normalQuantile } from '../maths/distributions.ts';
import type { Mat3 } from '../maths/mat3.ts';
import { errorEllipsoid } from '../place/errorEllipsoid.ts';

/** One half-axis of a 95 % ellipsoid: its length, and where it points (azimuth from north, elevation above level). */
export interface HalfAxis {
  readonly lengthM: number;
  readonly azimuthDeg: number;
  readonly elevationDeg: number;
}

/** What a position's covariance comes to, all at 95 %. */
export interface AccuracyFigures {
  /** Radius of the circle that holds 95 % of a plane Gaussian of this shape. */
  readonly horizontalM: number;
  readonly verticalM: number;
  /** Longest first. The ellipsoid holds 95 % in space. */
  readonly ellipsoid: readonly [HalfAxis, HalfAxis, HalfAxis];
}

/**
 * 95 % figures of a position.
 * @param covarianceEnuM2 east, north, up; positive semidefinite
 * Factors: the root of the chi-square quantile with 1 degree of freedom for the height (1.960) and with 3 for the
 * ellipsoid (2.795); the circle is found numerically, 2.448 sigma where both horizontal axes are equal, 1.960 where one vanishes.
 */
export function accuracyFigures(covarianceEnuM2: Mat3): AccuracyFigures {
  const [ee, en, , , nn] = covarianceEnuM2;
  const mean = (ee + nn) / 2;
  const half = Math.hypot((ee - nn) / 2, en);
  const { halfAxesM, axesEnu, verticalM } = errorEllipsoid(covarianceEnuM2, 0.95);
  const axes = halfAxesM.map((lengthM, k): HalfAxis => {
    // An axis has no sign; it is given pointing up, or north where it is level.
    const v = axesEnu[k]!;
    const sign = v[2] < -1e-12 || (Math.abs(v[2]) <= 1e-12 && v[1] < 0) ? -1 : 1;
    const [east, north, up] = [sign * v[0], sign * v[1], sign * v[2]];
    return {
      lengthM,
      azimuthDeg: wrapDeg360(Math.atan2(east, north) * DEG_PER_RAD),
      elevationDeg: Math.atan2(up, Math.hypot(east, north)) * DEG_PER_RAD,
    };
  }) as [HalfAxis, HalfAxis, HalfAxis];
  return {
    horizontalM: circleRadius(Math.sqrt(mean + half), Math.sqrt(Math.max(0, mean - half)), 0.95),
    verticalM,
    ellipsoid: axes,
  };
}

/** Radius of the centred circle with the given probability under a plane Gaussian with these two sigmas, by bisection. */
export function circleRadius(majorSigma: number, minorSigma: number, probability: number): number {
  if (!(majorSigma > 0)) return 0;
  // A needle is a one-dimensional Gaussian; below this ratio the angular integral would need finer steps.
  if (minorSigma < 0.01 * majorSigma) return normalQuantile((1 + probability) / 2) * majorSigma;
  const steps = 720;
  const inside = (radius: number) => {
    let sum = 0;
    for (let s = 0; s < steps; s++) {
      const angle = ((s + 0.5) * Math.PI) / steps;
      const k = (Math.cos(angle) / majorSigma) ** 2 + (Math.sin(angle) / minorSigma) ** 2;
      sum += (1 - Math.exp((-radius * radius * k) / 2)) / k;
    }
    return sum / (steps * majorSigma * minorSigma);
  };
  let low = 0;
  let high = 3 * majorSigma;
  for (let round = 0; round < 50; round++) {
    const middle = (low + high) / 2;
    if (inside(middle) < probability) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}
