import type { Lens } from '../camera/Lens.ts';
import { distort, distortionDerivative } from '../camera/projectPoint.ts';
import { multiply, multiplyVec, transpose } from '../maths/mat3.ts';
import { cross, dot, norm, scale, subtract, unit, type Vec3 } from '../maths/vec3.ts';
import type { Mounting } from '../rig/Mounting.ts';
import type { FrameMotion } from './frameMotion.ts';
import type { RayBundle } from './RayBundle.ts';
import { SYSTEMATIC_COUNT, type SystematicErrors } from './SystematicErrors.ts';

/**
 * How the whitened residuals change with each systematic parameter, at a point.
 * @returns (2 x rays) x SYSTEMATIC_COUNT, row by row, rows as in `residualsInto`
 * A ray that moves by dO at its origin and turns by dd leaves the residual -(dO / range + dd), taken across.
 */
export function systematicSensitivity(bundle: RayBundle, pointEnuM: Vec3, errors: SystematicErrors): Float64Array {
  const out = new Float64Array(2 * bundle.rays.length * SYSTEMATIC_COUNT);
  const ofFrame = new Map<FrameMotion, FrameEffects>();
  let at = 0;
  for (const ray of bundle.rays) {
    const { motion, directionEnu, smearEnu, acrossEnu } = ray;
    let frame = ofFrame.get(motion);
    if (!frame) {
      frame = frameEffects(motion, errors.mounting);
      ofFrame.set(motion, frame);
    }
    const depth = dot(subtract(pointEnuM, ray.originEnuM), directionEnu);
    const { m: lensShift, toUnit } = directionByLens(motion, directionEnu, errors.lens);
    const k = -Math.sqrt(ray.membership);
    for (let second = 0; second < 2; second++) {
      const axis = second === 0 ? smearEnu : acrossEnu;
      // A turn w moves the ray by w x d; its share along the axis is w · (d x axis), and (smear, across, d) is a triad.
      const turned: Vec3 = second === 0 ? acrossEnu : scale(smearEnu, -1);
      const weight = k / (second === 0 ? ray.sigmaSmearRad : ray.sigmaAcrossRad);
      const perM = weight / depth;
      for (let c = 0; c < 3; c++) out[at + c] = axis[c] * perM;
      for (let a = 0; a < 3; a++)
        out[at + 3 + a] = dot(axis, frame.leverTurns[a]) * perM + dot(turned, frame.attitudeAxes[a]) * weight;
      for (let c = 0; c < 3; c++) {
        out[at + 6 + c] = dot(turned, frame.bodyAxes[c]) * weight;
        out[at + 9 + c] = dot(axis, frame.bodyAxes[c]) * perM;
      }
      out[at + 12] = dot(axis, motion.velocityEnuMps) * perM + dot(turned, motion.turnEnuRadps) * weight;
      const right =
        (axis[0] * motion.enuFromUv[0] + axis[1] * motion.enuFromUv[3] + axis[2] * motion.enuFromUv[6]) * toUnit;
      const down =
        (axis[0] * motion.enuFromUv[1] + axis[1] * motion.enuFromUv[4] + axis[2] * motion.enuFromUv[7]) * toUnit;
      for (let p = 0; p < 9; p++) out[at + 13 + p] = (right * lensShift[2 * p] + down * lensShift[2 * p + 1]) * weight;
      at += SYSTEMATIC_COUNT;
    }
  }
  return out;
}

interface FrameEffects {
  /** Axes of the body in east-north-up: forward, right, down. */
  readonly bodyAxes: readonly [Vec3, Vec3, Vec3];
  /** Axes of roll, pitch and heading in east-north-up. */
  readonly attitudeAxes: readonly [Vec3, Vec3, Vec3];
  /** How the camera moves with a turn about each of them, by its lever arm. */
  readonly leverTurns: readonly [Vec3, Vec3, Vec3];
}

function frameEffects(motion: FrameMotion, mounting: Mounting): FrameEffects {
  const enuFromBody = multiply(motion.enuFromUv, transpose(mounting.bodyFromUv.rotation));
  const column = (c: number): Vec3 => [enuFromBody[c], enuFromBody[3 + c], enuFromBody[6 + c]];
  const bodyAxes = [column(0), column(1), column(2)] as const;
  const down: Vec3 = [0, 0, -1];
  // nedFromBody = Rz Ry Rx: heading turns about the vertical, pitch about the level axis to the right, roll about the
  // body. The vertical is the campaign's; within 10 km it stands 0.09 degrees off the aircraft's, nothing here.
  const level = cross(down, bodyAxes[0]);
  const attitudeAxes = [bodyAxes[0], norm(level) > 1e-6 ? unit(level) : bodyAxes[1], down] as const;
  const leverEnuM = multiplyVec(enuFromBody, mounting.bodyFromUv.translation);
  return {
    bodyAxes,
    attitudeAxes,
    leverTurns: [
      cross(attitudeAxes[0], leverEnuM),
      cross(attitudeAxes[1], leverEnuM),
      cross(attitudeAxes[2], leverEnuM),
    ],
  };
}

/**
 * How the undistorted direction (x, y, 1) of one pixel moves with each lens parameter: the pixel stays, so
 * D · d(x, y) = -d(u / fx, v / fy), with D the derivative of the distortion.
 * @returns nine pairs dx, dy, and the length that takes (x, y, 1) to a unit vector
 */
function directionByLens(motion: FrameMotion, direction: Vec3, lens: Lens): { m: Float64Array; toUnit: number } {
  const camera = multiplyVec(transpose(motion.enuFromUv), direction);
  const x = camera[0] / camera[2];
  const y = camera[1] / camera[2];
  const [xd, yd] = distort(x, y, lens);
  const [a, b, c, d] = distortionDerivative(x, y, lens);
  const det = a * d - b * c;
  const r2 = x * x + y * y;
  const m = new Float64Array(18);
  const put = (p: number, u: number, v: number): void => {
    m[2 * p] = -(d * u - b * v) / det;
    m[2 * p + 1] = -(a * v - c * u) / det;
  };
  put(0, xd / lens.fxPx, 0);
  put(1, 0, yd / lens.fyPx);
  put(2, 1 / lens.fxPx, 0);
  put(3, 0, 1 / lens.fyPx);
  put(4, x * r2, y * r2);
  put(5, x * r2 * r2, y * r2 * r2);
  put(6, 2 * x * y, r2 + 2 * y * y);
  put(7, r2 + 2 * x * x, 2 * x * y);
  put(8, x * r2 ** 3, y * r2 ** 3);
  return { m, toUnit: 1 / Math.hypot(x, y, 1) };
}
