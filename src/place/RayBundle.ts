import { add, cross, dot, norm, scale, subtract, unit, type Vec3 } from '../maths/vec3.ts';
import type { EventRays, FramePoses } from '../sighting/EventRays.ts';
import type { Sighting } from '../sighting/Sighting.ts';
import { type FrameMotion, motionOfFrame } from './frameMotion.ts';

/** One ray as an observation: the point's offset from it, in two directions across, each with its own sigma. */
interface ObservedRay {
  readonly originEnuM: Vec3;
  readonly directionEnu: Vec3;
  /** Across the ray, along the smear of a point at rest; with `acrossEnu` and the ray a right-handed triad. */
  readonly smearEnu: Vec3;
  readonly acrossEnu: Vec3;
  readonly sigmaSmearRad: number;
  readonly sigmaAcrossRad: number;
  /** Probability that the event is of this source. */
  readonly membership: number;
  readonly motion: FrameMotion;
}

/** The rays of one sighting, ready for placing. */
export interface RayBundle {
  readonly rays: readonly ObservedRay[];
  /** Middle of the sighting, for the correlation between passes. */
  readonly tNs: number;
}

/**
 * Whitens a sighting's rays. A photon may come at any instant of the exposure, while the ray is drawn with the pose of
 * its middle: across the smear the ray is good to its own sigma, along it a uniform spread over the smear's length L
 * is added, variance L²/12. What all photons of a pass are early or late by together is a part of that spread and no matter of the
 * single ray: with the mean instant off by s out of an exposure T, (T²/12 - s²) (L/T)² is left.
 * @param aboutEnuM where the source is roughly: the smear's length depends on the range
 * @param lightInstantSigmaS of the mean instant of a pass' light within its exposures (lightInstant.ts)
 */
export function bundleRays(
  sighting: Pick<Sighting, 'rays' | 'membership' | 'fromNs' | 'toNs'>,
  rays: EventRays,
  poses: FramePoses,
  aboutEnuM: Vec3,
  lightInstantSigmaS = 0,
): RayBundle {
  const motionOf = motionOfFrame(poses);
  const observed: ObservedRay[] = [];
  for (let i = 0; i < sighting.rays.length; i++) {
    const membership = sighting.membership[i];
    if (!(membership > 0)) continue;
    const ray = sighting.rays[i];
    const motion = motionOf(rays.frame[ray]);
    const vector = (data: Float64Array): Vec3 => [data[3 * ray], data[3 * ray + 1], data[3 * ray + 2]];
    const directionEnu = vector(rays.directionEnu);
    const originEnuM = vector(rays.originEnuM);
    const rangeM = norm(subtract(aboutEnuM, originEnuM));
    // How a fixed point runs over the image, turned back by the pose of the middle: by the camera's own move, and by
    // its turn, against which the scene turns.
    const drift = subtract(
      scale(motion.velocityEnuMps, -1 / Math.max(rangeM, 0.1)),
      cross(motion.turnEnuRadps, directionEnu),
    );
    const acrossRay = subtract(drift, scale(directionEnu, dot(drift, directionEnu)));
    const smearRadps = norm(acrossRay);
    const smearEnu = smearRadps * motion.exposureS > 1e-9 ? unit(acrossRay) : anyAcross(directionEnu);
    const instantS2 = Math.max(0, motion.exposureS ** 2 / 12 - lightInstantSigmaS ** 2);
    const sigma = rays.sigmaRad[ray];
    observed.push({
      originEnuM,
      directionEnu,
      smearEnu,
      acrossEnu: cross(directionEnu, smearEnu),
      sigmaSmearRad: Math.sqrt(sigma * sigma + smearRadps ** 2 * instantS2),
      sigmaAcrossRad: sigma,
      membership,
      motion,
    });
  }
  return { rays: observed, tNs: (sighting.fromNs + sighting.toNs) / 2 };
}

function anyAcross(direction: Vec3): Vec3 {
  const [x, y, z] = direction.map(Math.abs) as [number, number, number];
  const axis: Vec3 = x <= y && x <= z ? [1, 0, 0] : y <= z ? [0, 1, 0] : [0, 0, 1];
  return unit(cross(direction, axis));
}

/**
 * Writes the two whitened residuals of each ray at a point, and their derivatives by it, from row `firstRow` on.
 * @returns false where the point is not in front of a camera (nearer than 0.1 m)
 */
export function residualsInto(
  residuals: Float64Array,
  jacobian: Float64Array | null,
  columns: number,
  firstRow: number,
  bundle: RayBundle,
  pointEnuM: Vec3,
): boolean {
  let row = firstRow;
  for (const ray of bundle.rays) {
    const [dx, dy, dz] = ray.directionEnu;
    const x = pointEnuM[0] - ray.originEnuM[0];
    const y = pointEnuM[1] - ray.originEnuM[1];
    const z = pointEnuM[2] - ray.originEnuM[2];
    const depth = x * dx + y * dy + z * dz;
    if (!(depth > 0.1)) return false;
    const k = Math.sqrt(ray.membership);
    for (let across = 0; across < 2; across++) {
      const axis = across === 0 ? ray.smearEnu : ray.acrossEnu;
      const weight = k / (across === 0 ? ray.sigmaSmearRad : ray.sigmaAcrossRad);
      const offset = (x * axis[0] + y * axis[1] + z * axis[2]) / depth;
      residuals[row] = offset * weight;
      if (jacobian) {
        const perM = weight / depth;
        const at = row * columns;
        jacobian[at] = (axis[0] - offset * dx) * perM;
        jacobian[at + 1] = (axis[1] - offset * dy) * perM;
        jacobian[at + 2] = (axis[2] - offset * dz) * perM;
      }
      row++;
    }
  }
  return true;
}

/** Mean viewing direction and the mean place looked from. */
export function meanRay(bundle: RayBundle): { originEnuM: Vec3; directionEnu: Vec3 } {
  let origin: Vec3 = [0, 0, 0];
  let direction: Vec3 = [0, 0, 0];
  let total = 0;
  for (const ray of bundle.rays) {
    origin = add(origin, scale(ray.originEnuM, ray.membership));
    direction = add(direction, scale(ray.directionEnu, ray.membership));
    total += ray.membership;
  }
  return { originEnuM: scale(origin, 1 / total), directionEnu: unit(direction) };
}

/** Largest angle between two directions from which the bundles see the point, degrees. */
export function crossingDegAt(pointEnuM: Vec3, bundles: readonly RayBundle[]): number {
  const rays = bundles.flatMap((bundle) => bundle.rays);
  // 80 of many rays, evenly taken with both ends, hold the widest pair to about a hundredth of the crossing angle.
  const step = Math.max(1, Math.floor(rays.length / 80));
  const sights = rays
    .filter((_, i) => i % step === 0 || i === rays.length - 1)
    .map((ray) => unit(subtract(pointEnuM, ray.originEnuM)));
  let widest2 = 0;
  for (let i = 0; i < sights.length; i++) {
    const [x, y, z] = sights[i];
    for (let j = 0; j < i; j++)
      widest2 = Math.max(widest2, (x - sights[j][0]) ** 2 + (y - sights[j][1]) ** 2 + (z - sights[j][2]) ** 2);
  }
  // Chord to angle: exact also for small angles, where the cosine loses its digits.
  return (2 * Math.asin(Math.min(1, Math.sqrt(widest2) / 2)) * 180) / Math.PI;
}
