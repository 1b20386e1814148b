import type { Lens } from '../camera/Lens.ts';
import { distort, distortionDerivative } from '../camera/projectPoint.ts';
import { type Mat3, multiply, multiplyVec, transpose } from '../maths/mat3.ts';
import { add, cross, dot, norm, scale, subtract, unit, type Vec3 } from '../maths/vec3.ts';
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
  bundle.rays.forEach((ray, i) => {
    let frame = ofFrame.get(ray.motion);
    if (!frame) {
      frame = frameEffects(ray.motion, errors.mounting);
      ofFrame.set(ray.motion, frame);
    }
    const depth = dot(subtract(pointEnuM, ray.originEnuM), ray.directionEnu);
    const moved = rayEffects(ray.directionEnu, depth, frame, ray.motion, errors.lens);
    const k = Math.sqrt(ray.membership);
    const rows = [
      [ray.smearEnu, k / ray.sigmaSmearRad],
      [ray.acrossEnu, k / ray.sigmaAcrossRad],
    ] as const;
    rows.forEach(([axis, weight], r) => {
      for (let p = 0; p < SYSTEMATIC_COUNT; p++)
        out[(2 * i + r) * SYSTEMATIC_COUNT + p] = -dot(axis, moved[p]) * weight;
    });
  });
  return out;
}

interface FrameEffects {
  readonly enuFromBody: Mat3;
  readonly leverEnuM: Vec3;
  /** Axes of roll, pitch and heading in east-north-up. */
  readonly attitudeAxes: readonly [Vec3, Vec3, Vec3];
}

function frameEffects(motion: FrameMotion, mounting: Mounting): FrameEffects {
  const enuFromBody = multiply(motion.enuFromUv, transpose(mounting.bodyFromUv.rotation));
  const forward: Vec3 = [enuFromBody[0], enuFromBody[3], enuFromBody[6]];
  const down: Vec3 = [0, 0, -1];
  // nedFromBody = Rz Ry Rx: heading turns about the vertical, pitch about the level axis to the right, roll about the
  // body. The vertical is the campaign's; within 10 km it stands 0.09 degrees off the aircraft's, nothing here.
  const level = cross(down, forward);
  const right = norm(level) > 1e-6 ? unit(level) : unit([enuFromBody[1], enuFromBody[4], enuFromBody[7]]);
  return {
    enuFromBody,
    leverEnuM: multiplyVec(enuFromBody, mounting.bodyFromUv.translation),
    attitudeAxes: [forward, right, down],
  };
}

/** For each parameter dO / range + dd, an angle in east-north-up. */
function rayEffects(direction: Vec3, depthM: number, frame: FrameEffects, motion: FrameMotion, lens: Lens): Vec3[] {
  const shift = (dOrigin: Vec3): Vec3 => scale(dOrigin, 1 / depthM);
  const column = (m: Mat3, c: number): Vec3 => [m[c], m[3 + c], m[6 + c]];
  const out: Vec3[] = [shift([1, 0, 0]), shift([0, 1, 0]), shift([0, 0, 1])];
  for (const axis of frame.attitudeAxes) out.push(add(shift(cross(axis, frame.leverEnuM)), cross(axis, direction)));
  for (let c = 0; c < 3; c++) out.push(cross(column(frame.enuFromBody, c), direction));
  for (let c = 0; c < 3; c++) out.push(shift(column(frame.enuFromBody, c)));
  out.push(add(shift(motion.velocityEnuMps), cross(motion.turnEnuRadps, direction)));
  const camera = multiplyVec(transpose(motion.enuFromUv), direction);
  const x = camera[0] / camera[2];
  const y = camera[1] / camera[2];
  const toUnit = 1 / Math.hypot(x, y, 1);
  for (const [dx, dy] of directionByLens(x, y, lens))
    out.push(scale(multiplyVec(motion.enuFromUv, [dx, dy, 0]), toUnit));
  return out;
}

/**
 * How the undistorted direction (x, y, 1) of one pixel moves with each lens parameter: the pixel stays, so
 * D · d(x, y) = -d(u / fx, v / fy), with D the derivative of the distortion.
 */
function directionByLens(x: number, y: number, lens: Lens): (readonly [number, number])[] {
  const [xd, yd] = distort(x, y, lens);
  const [a, b, c, d] = distortionDerivative(x, y, lens);
  const det = a * d - b * c;
  const r2 = x * x + y * y;
  const pixel: (readonly [number, number])[] = [
    [xd / lens.fxPx, 0],
    [0, yd / lens.fyPx],
    [1 / lens.fxPx, 0],
    [0, 1 / lens.fyPx],
    [x * r2, y * r2],
    [x * r2 * r2, y * r2 * r2],
    [2 * x * y, r2 + 2 * y * y],
    [r2 + 2 * x * x, 2 * x * y],
    [x * r2 ** 3, y * r2 ** 3],
  ];
  return pixel.map(([u, v]) => [-(d * u - b * v) / det, -(a * v - c * u) / det] as const);
}
