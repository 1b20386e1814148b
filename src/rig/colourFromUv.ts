import { type ColourPx, colourPx, type UvPx, uvPx } from '../camera/pixel.ts';
import { distortionDerivative, projectPoint } from '../camera/projectPoint.ts';
import { undistort } from '../camera/rayFromPixel.ts';
import { multiplyVec, transpose } from '../maths/mat3.ts';
import type { Vec3 } from '../maths/vec3.ts';
import { lensVector, PROJECTION_LENGTH, projectWithAllDerivativesInto } from './lensDerivative.ts';
import { type Registration, TWO_CAMERA_PARAMETER_COUNT, type TwoCameraModel } from './Registration.ts';
import { residualFieldPx, residualFieldSlope } from './residualField.ts';
import { type SupportVerdict, supportAt } from './support.ts';

/** [uu, uv, uv, vv], px². */
export type PixelCovariance = readonly [number, number, number, number];

export interface Mapped<P> {
  readonly kind: 'mapped';
  readonly px: P;
  /** Of the registration's parameters, and of the range where its standard deviation was given. */
  readonly covariancePx2: PixelCovariance;
  /** Derivative of the mapped pixel by the pixel given, row by row. */
  readonly byPixel: readonly [number, number, number, number];
  /** Derivative of the mapped pixel by inverse range, px metres. */
  readonly byInverseRange: readonly [number, number];
  /** Whether the bench run's data stand behind this answer; `support` says why not. */
  readonly supported: boolean;
  readonly support: SupportVerdict;
}
export type MappingOutcome<P> =
  | Mapped<P>
  | { readonly kind: 'refused'; readonly because: 'no direction has this pixel' | 'not in front of the other camera' };

/**
 * The colour pixel of a uv pixel whose source stands at a given range.
 * @param inverseRangePerM 1 / distance from the uv camera's centre along the ray; 0 for infinity
 * @param inverseRangeSigmaPerM standard deviation of that, 0 where the range is exact
 * Accuracy: rounding; the errors of the registration itself are in covariancePx2.
 */
export function colourFromUv(
  registration: Registration,
  at: UvPx,
  inverseRangePerM: number,
  inverseRangeSigmaPerM = 0,
): MappingOutcome<ColourPx> {
  const linear = linearised(registration.model, at[0], at[1], inverseRangePerM);
  if (typeof linear === 'string') return { kind: 'refused', because: linear };
  const [a, b] = linear.byInverseRange;
  const s2 = inverseRangeSigmaPerM ** 2;
  const [uu, uv, , vv] = propagate(registration.covariance, linear.byParameters);
  const support = supportAt(registration.support, at[0], at[1], inverseRangePerM);
  return {
    kind: 'mapped',
    px: colourPx(linear.px[0], linear.px[1]),
    covariancePx2: [uu + a * a * s2, uv + a * b * s2, uv + a * b * s2, vv + b * b * s2],
    byPixel: linear.byPixel,
    byInverseRange: linear.byInverseRange,
    supported: support === 'supported',
    support,
  };
}

/** The uv pixel of a colour pixel, the inverse of `colourFromUv`; the range is still counted from the uv camera. */
export function uvFromColour(
  registration: Registration,
  at: ColourPx,
  inverseRangePerM: number,
  inverseRangeSigmaPerM = 0,
): MappingOutcome<UvPx> {
  const px = uvPxFromColour(registration.model, at[0], at[1], inverseRangePerM);
  if (!px) return { kind: 'refused', because: 'no direction has this pixel' };
  const forward = colourFromUv(registration, uvPx(px[0], px[1]), inverseRangePerM, inverseRangeSigmaPerM);
  if (forward.kind === 'refused') return forward;
  const inverse = invert2(forward.byPixel);
  if (!inverse) return { kind: 'refused', because: 'no direction has this pixel' };
  const [a, b, c, d] = inverse;
  const [e, f] = forward.byInverseRange;
  return {
    ...forward,
    px: uvPx(px[0], px[1]),
    covariancePx2: congruence2(inverse, forward.covariancePx2),
    byPixel: inverse,
    byInverseRange: [-(a * e + b * f), -(c * e + d * f)],
  };
}

/** The mapping alone, for tables and overlays: no covariance, null where there is none. */
export function colourPxFromUv(
  model: TwoCameraModel,
  u: number,
  v: number,
  inverseRangePerM: number,
): readonly [number, number] | null {
  const xy = undistort([u, v], model.uv);
  if (!xy) return null;
  const k = 1 / Math.hypot(xy[0], xy[1], 1);
  const turned = multiplyVec(model.colourFromUv.rotation, [xy[0] * k, xy[1] * k, k]);
  const t = model.colourFromUv.translation;
  const px = projectPoint(
    [turned[0] + inverseRangePerM * t[0], turned[1] + inverseRangePerM * t[1], turned[2] + inverseRangePerM * t[2]],
    model.colour,
  );
  if (!px) return null;
  const field = residualFieldPx(model.residualField, model.uv, u, v);
  return [px[0] + field[0], px[1] + field[1]];
}

/** Its inverse by Newton's method, to 1e-9 px. */
export function uvPxFromColour(
  model: TwoCameraModel,
  u: number,
  v: number,
  inverseRangePerM: number,
): readonly [number, number] | null {
  const xy = undistort([u, v], model.colour);
  if (!xy) return null;
  // Start: the colour ray turned into the uv frame, the parallax undone to first order.
  const t = model.colourFromUv.translation;
  const back = multiplyVec(transpose(model.colourFromUv.rotation), [
    xy[0] - inverseRangePerM * t[0],
    xy[1] - inverseRangePerM * t[1],
    1 - inverseRangePerM * t[2],
  ]);
  const start = projectPoint(back, model.uv);
  if (!start) return null;
  let [a, b] = start;
  for (let i = 0; i < 20; i++) {
    const linear = linearised(model, a, b, inverseRangePerM, false);
    if (typeof linear === 'string') return null;
    const inverse = invert2(linear.byPixel);
    if (!inverse) return null;
    const eu = u - linear.px[0];
    const ev = v - linear.px[1];
    const da = inverse[0] * eu + inverse[1] * ev;
    const db = inverse[2] * eu + inverse[3] * ev;
    a += da;
    b += db;
    if (Math.abs(da) + Math.abs(db) < 1e-10) return [a, b];
  }
  return null;
}

interface Linearised {
  readonly px: readonly [number, number];
  readonly byPixel: readonly [number, number, number, number];
  readonly byInverseRange: readonly [number, number];
  /** 2 x 24, row by row. */
  readonly byParameters: Float64Array;
}

function linearised(
  model: TwoCameraModel,
  u: number,
  v: number,
  inverseRangePerM: number,
  withParameters = true,
): Linearised | 'no direction has this pixel' | 'not in front of the other camera' {
  const xy = undistort([u, v], model.uv);
  if (!xy) return 'no direction has this pixel';
  const [x, y] = xy;
  const length = Math.hypot(x, y, 1);
  const ray: Vec3 = [x / length, y / length, 1 / length];
  const { rotation: r, translation: t } = model.colourFromUv;
  const turned = multiplyVec(r, ray);
  const out = new Float64Array(PROJECTION_LENGTH);
  const X = turned[0] + inverseRangePerM * t[0];
  const Y = turned[1] + inverseRangePerM * t[1];
  const Z = turned[2] + inverseRangePerM * t[2];
  if (!projectPoint([X, Y, Z], model.colour)) return 'not in front of the other camera';
  projectWithAllDerivativesInto(out, X, Y, Z, lensVector(model.colour));
  // d ray / d(x, y) = ([1 0 0], [0 1 0]) / length - ray (x, y) / length²; then back through the uv distortion.
  const [d00, d01, d10, d11] = distortionDerivative(x, y, model.uv);
  const m = invert2([model.uv.fxPx * d00, model.uv.fxPx * d01, model.uv.fyPx * d10, model.uv.fyPx * d11]);
  if (!m) return 'no direction has this pixel';
  const byX = multiplyVec(r, [
    (1 - ray[0] * ray[0]) / length,
    (-ray[1] * ray[0]) / length,
    (-ray[2] * ray[0]) / length,
  ]);
  const byY = multiplyVec(r, [
    (-ray[0] * ray[1]) / length,
    (1 - ray[1] * ray[1]) / length,
    (-ray[2] * ray[1]) / length,
  ]);
  const row = (axis: 0 | 1, w: Vec3): number =>
    out[2 + 3 * axis] * w[0] + out[3 + 3 * axis] * w[1] + out[4 + 3 * axis] * w[2];
  const byXy = [row(0, byX), row(0, byY), row(1, byX), row(1, byY)] as const;
  const smooth = [
    byXy[0] * m[0] + byXy[1] * m[2],
    byXy[0] * m[1] + byXy[1] * m[3],
    byXy[2] * m[0] + byXy[3] * m[2],
    byXy[2] * m[1] + byXy[3] * m[3],
  ] as const;
  const field = residualFieldPx(model.residualField, model.uv, u, v);
  const slope = residualFieldSlope(model.residualField, model.uv, u, v);
  const byParameters = new Float64Array(2 * TWO_CAMERA_PARAMETER_COUNT);
  if (withParameters) {
    const uvOut = new Float64Array(PROJECTION_LENGTH);
    projectWithAllDerivativesInto(uvOut, x, y, 1, lensVector(model.uv));
    for (let axis = 0; axis < 2; axis++) {
      const at = axis * TWO_CAMERA_PARAMETER_COUNT;
      // The uv pixel stays, so a change of the uv lens moves the ray against it.
      for (let i = 0; i < 9; i++) {
        byParameters[at + i] = -(smooth[2 * axis] * uvOut[8 + i] + smooth[2 * axis + 1] * uvOut[17 + i]);
        byParameters[at + 9 + i] = out[8 + 9 * axis + i];
      }
      const j: Vec3 = [out[2 + 3 * axis], out[3 + 3 * axis], out[4 + 3 * axis]];
      byParameters[at + 18] = turned[1] * j[2] - turned[2] * j[1];
      byParameters[at + 19] = turned[2] * j[0] - turned[0] * j[2];
      byParameters[at + 20] = turned[0] * j[1] - turned[1] * j[0];
      for (let i = 0; i < 3; i++) byParameters[at + 21 + i] = inverseRangePerM * j[i];
    }
  }
  return {
    px: [out[0] + field[0], out[1] + field[1]],
    byPixel: [smooth[0] + slope[0], smooth[1] + slope[1], smooth[2] + slope[2], smooth[3] + slope[3]],
    byInverseRange: [row(0, t), row(1, t)],
    byParameters,
  };
}

/** Derivative of the mapped colour pixel by the registration's parameters, 2 x 24 row by row; null where there is no mapping. */
export function mappingByParameters(
  model: TwoCameraModel,
  u: number,
  v: number,
  inverseRangePerM: number,
): Float64Array | null {
  const linear = linearised(model, u, v, inverseRangePerM);
  return typeof linear === 'string' ? null : linear.byParameters;
}

function propagate(covariance: Float64Array, byParameters: Float64Array): PixelCovariance {
  const n = TWO_CAMERA_PARAMETER_COUNT;
  const entry = (a: number, b: number): number => {
    let sum = 0;
    for (let i = 0; i < n; i++) {
      const ji = byParameters[a * n + i];
      if (ji === 0) continue;
      for (let k = 0; k < n; k++) sum += ji * covariance[i * n + k] * byParameters[b * n + k];
    }
    return sum;
  };
  const uv = entry(0, 1);
  return [entry(0, 0), uv, uv, entry(1, 1)];
}

function invert2([a, b, c, d]: readonly [number, number, number, number]):
  | readonly [number, number, number, number]
  | null {
  const det = a * d - b * c;
  return Math.abs(det) > 1e-12 ? [d / det, -b / det, -c / det, a / det] : null;
}

function congruence2(m: readonly [number, number, number, number], c: PixelCovariance): PixelCovariance {
  const [a, b, d, e] = m;
  const x = [a * c[0] + b * c[2], a * c[1] + b * c[3], d * c[0] + e * c[2], d * c[1] + e * c[3]];
  const uv = x[0] * d + x[1] * e;
  return [x[0] * a + x[1] * b, uv, uv, x[2] * d + x[3] * e];
}
