import { normalCdf } from '../maths/distributions.ts';
import { addMat, determinant, diagonal3, invert, type Mat3, multiplyVec, scaleMat } from '../maths/mat3.ts';
import { add, cross, distance, dot, scale, subtract, unit, type Vec3 } from '../maths/vec3.ts';

/** Length of a component's axis. */
export function axisLengthM(axisEnuM: readonly Vec3[]): number {
  let length = 0;
  for (let i = 1; i < axisEnuM.length; i++) length += distance(axisEnuM[i - 1], axisEnuM[i]);
  return length;
}

/** The point at a share (0 to 1) of the axis' length. */
export function pointOnAxis(axisEnuM: readonly Vec3[], along: number): Vec3 {
  let left = along * axisLengthM(axisEnuM);
  for (let i = 1; i < axisEnuM.length; i++) {
    const length = distance(axisEnuM[i - 1], axisEnuM[i]);
    if (left <= length && length > 0)
      return add(axisEnuM[i - 1], scale(subtract(axisEnuM[i], axisEnuM[i - 1]), left / length));
    left -= length;
  }
  return axisEnuM[axisEnuM.length - 1];
}

/** A density along an axis: `density` per metre between two lengths from its start. */
export interface AxisDensity {
  readonly fromM: number;
  readonly toM: number;
  readonly perM: number;
}

/** What an observed position says of a place on an axis. */
export interface AxisLikelihood {
  /** Integral of density x Gaussian over the axis, 1/m³. */
  readonly likelihoodPerM3: number;
  /** Posterior mean and standard deviation of the length from the start, metres. */
  readonly meanM: number;
  readonly sigmaM: number;
}

/**
 * The likelihood of a position, observed with a Gaussian error, for a source spread along an axis. Exact on each straight
 * piece: across it a Gaussian, along it an error function.
 * @param covarianceEnuM2 of the position and of the axis as a whole
 * @param surfaceM        distance of the surface from the axis: a source sits round it, variance r²/2 in each direction across
 */
export function axisLikelihood(
  axisEnuM: readonly Vec3[],
  densities: readonly AxisDensity[],
  placeEnuM: Vec3,
  covarianceEnuM2: Mat3,
  surfaceM: number,
): AxisLikelihood {
  let likelihood = 0;
  let first = 0;
  let second = 0;
  let before = 0;
  const total = axisLengthM(axisEnuM);
  const point = total <= 0;
  for (let i = 1; i < axisEnuM.length || (point && i === 1); i++) {
    const from = axisEnuM[i - 1];
    const length = point ? 0 : distance(from, axisEnuM[i]);
    if (length <= 0 && !point) continue;
    const u: Vec3 = point ? [0, 0, 1] : unit(subtract(axisEnuM[i], from));
    // A thing without length is taken as a sphere, whose surface spreads r²/3 in each direction.
    const shape = point ? diagonal3(2 / 3, 2 / 3, 2 / 3) : addMat(diagonal3(1, 1, 1), outer(u, -1));
    const spread = addMat(covarianceEnuM2, scaleMat(shape, (surfaceM * surfaceM) / 2));
    const information = invert(spread);
    if (!information) throw new RangeError('axisLikelihood: the covariance has no inverse');
    const peak = 1 / Math.sqrt((2 * Math.PI) ** 3 * determinant(spread));
    const v = subtract(placeEnuM, from);
    const mv = multiplyVec(information, v);
    if (point) {
      const value = peak * Math.exp(-dot(v, mv) / 2) * densities.reduce((sum, d) => sum + d.perM, 0);
      return { likelihoodPerM3: value, meanM: 0, sigmaM: 0 };
    }
    const k = dot(u, multiplyVec(information, u));
    const centre = dot(u, mv) / k;
    const width = 1 / Math.sqrt(k);
    const misfit = dot(v, mv) - k * centre * centre;
    const scaleOf = peak * Math.exp(-misfit / 2) * width * Math.sqrt(2 * Math.PI);
    for (const density of densities) {
      const low = (Math.max(density.fromM, before) - before - centre) / width;
      const high = (Math.min(density.toM, before + length) - before - centre) / width;
      if (!(high > low)) continue;
      const part = truncated(low, high);
      const weight = scaleOf * density.perM * part.mass;
      const mean = before + centre + width * part.mean;
      likelihood += weight;
      first += weight * mean;
      second += weight * (mean * mean + width * width * part.variance);
    }
    before += length;
  }
  if (!(likelihood > 0)) return { likelihoodPerM3: 0, meanM: total / 2, sigmaM: total / Math.sqrt(12) };
  const meanM = first / likelihood;
  return { likelihoodPerM3: likelihood, meanM, sigmaM: Math.sqrt(Math.max(0, second / likelihood - meanM * meanM)) };
}

/** Points that stand for a circle: with a Gaussian of half its radius about each, the sum is even to 1e-6. */
const ON_A_CIRCLE = 16;

/**
 * The same for a source somewhere on a circle, as on the tube of a ring: 1/m³ for one expected discharge.
 * @param axisEnu unit vector at right angles to its plane
 */
export function circleLikelihood(
  centreEnuM: Vec3,
  axisEnu: Vec3,
  radiusM: number,
  placeEnuM: Vec3,
  covarianceEnuM2: Mat3,
): number {
  const information = invert(covarianceEnuM2);
  if (!information) throw new RangeError('circleLikelihood: the covariance has no inverse');
  const peak = 1 / Math.sqrt((2 * Math.PI) ** 3 * determinant(covarianceEnuM2));
  const right = unit(cross(axisEnu, Math.abs(axisEnu[2]) < 0.9 ? [0, 0, 1] : [1, 0, 0]));
  const ahead = cross(axisEnu, right);
  let sum = 0;
  for (let i = 0; i < ON_A_CIRCLE; i++) {
    const angle = (2 * Math.PI * i) / ON_A_CIRCLE;
    const rim = add(scale(right, radiusM * Math.cos(angle)), scale(ahead, radiusM * Math.sin(angle)));
    const v = subtract(subtract(placeEnuM, centreEnuM), rim);
    sum += Math.exp(-dot(v, multiplyVec(information, v)) / 2);
  }
  return (peak * sum) / ON_A_CIRCLE;
}

/** Mass, mean and variance of a standard normal cut to [low, high]. */
function truncated(low: number, high: number): { mass: number; mean: number; variance: number } {
  // Both ends far in one tail: use the mirrored tail, where differences keep their digits.
  if (low > 0) {
    const mirrored = truncated(-high, -low);
    return { ...mirrored, mean: -mirrored.mean };
  }
  const mass = normalCdf(high) - normalCdf(low);
  if (!(mass > 1e-300)) return { mass: 0, mean: Math.max(low, Math.min(0, high)), variance: 0 };
  const density = (x: number): number => (Number.isFinite(x) ? Math.exp((-x * x) / 2) / Math.sqrt(2 * Math.PI) : 0);
  const mean = (density(low) - density(high)) / mass;
  const edge = (x: number): number => (Number.isFinite(x) ? x * density(x) : 0);
  return { mass, mean, variance: Math.max(0, 1 + (edge(low) - edge(high)) / mass - mean * mean) };
}

const outer = (u: Vec3, k: number): Mat3 => u.flatMap((a) => u.map((b) => a * b * k)) as unknown as Mat3;
