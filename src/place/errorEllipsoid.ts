import { EigenvalueDecomposition, Matrix } from 'ml-matrix';
import { chiSquareQuantile } from '../maths/distributions.ts';
import { invert, type Mat3, quadraticForm } from '../maths/mat3.ts';
import type { Vec3 } from '../maths/vec3.ts';

/** A confidence ellipsoid: half-axes in falling order, their directions, and the confidence it was drawn for. */
export interface ErrorEllipsoid {
  readonly confidence: number;
  readonly halfAxesM: readonly [number, number, number];
  readonly axesEnu: readonly [Vec3, Vec3, Vec3];
  /** Half-axes and bearing (0 to 180 from north, clockwise, of the longer) of the ellipse of the horizontal position alone. */
  readonly horizontal: { readonly majorM: number; readonly minorM: number; readonly bearingDeg: number };
  /** Half-width of the interval of the height alone. */
  readonly verticalM: number;
}

/** √χ²: what one sigma is multiplied with; 2.7955 for 95 % of three dimensions, 2.4477 of two, 1.9600 of one. */
export const confidenceFactor = (confidence: number, dimensions: number): number =>
  Math.sqrt(chiSquareQuantile(confidence, dimensions));

export function errorEllipsoid(covarianceEnuM2: Mat3, confidence = 0.95): ErrorEllipsoid {
  const rows = [0, 3, 6].map((i) => covarianceEnuM2.slice(i, i + 3));
  const { realEigenvalues, eigenvectorMatrix } = new EigenvalueDecomposition(new Matrix(rows), {
    assumeSymmetric: true,
  });
  const order = [0, 1, 2].sort((a, b) => realEigenvalues[b] - realEigenvalues[a]);
  const factor = confidenceFactor(confidence, 3);
  const [ee, en, , , nn, , , , uu] = covarianceEnuM2;
  const middle = (ee + nn) / 2;
  const spread = Math.hypot((nn - ee) / 2, en);
  const plane = confidenceFactor(confidence, 2);
  const bearingDeg = (Math.atan2(2 * en, nn - ee) * 90) / Math.PI;
  return {
    confidence,
    halfAxesM: order.map((i) => factor * Math.sqrt(Math.max(0, realEigenvalues[i]))) as [number, number, number],
    axesEnu: order.map((i) => eigenvectorMatrix.getColumn(i)) as unknown as [Vec3, Vec3, Vec3],
    horizontal: {
      majorM: plane * Math.sqrt(middle + spread),
      minorM: plane * Math.sqrt(Math.max(0, middle - spread)),
      bearingDeg: bearingDeg < 0 ? bearingDeg + 180 : bearingDeg,
    },
    verticalM: confidenceFactor(confidence, 1) * Math.sqrt(uu),
  };
}

/** dᵀ C⁻¹ d: compare with the chi-square of three degrees of freedom. Null where the covariance has no inverse. */
export function squaredMahalanobis(differenceEnuM: Vec3, covarianceEnuM2: Mat3): number | null {
  const information = invert(covarianceEnuM2);
  return information && quadraticForm(information, differenceEnuM);
}
