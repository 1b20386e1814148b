import type { Lens } from '../camera/Lens.ts';
import { uvPx } from '../camera/pixel.ts';
import { projectPoint } from '../camera/projectPoint.ts';
import { undistort } from '../camera/rayFromPixel.ts';
import { multiplyVec } from '../maths/mat3.ts';
import type { RigidTransform } from '../maths/rigidTransform.ts';
import { add, scale } from '../maths/vec3.ts';
import { colourFromUv } from './colourFromUv.ts';
import { applyPlaneModel } from './planeModels.ts';
import type { PlaneModel, Registration } from './Registration.ts';
import { supportAt } from './support.ts';

/** The true rig, as plain data. */
export interface TrueRig {
  readonly uv: Lens;
  readonly colour: Lens;
  readonly colourFromUv: RigidTransform;
}

export interface MappingError {
  /** Infinity for a source at infinity. */
  readonly rangeM: number;
  /** Two-dimensional, colour px, over the supported region. */
  readonly rmsPx: number;
  readonly worstPx: number;
  /** Mean of the squared error over its predicted variance: 1 where the covariance is right. One fit is one draw. */
  readonly normalisedSquare: number;
  readonly pixels: number;
  /** The plane model given, on the same pixels; null where none was given. */
  readonly planeRmsPx: number | null;
}

/**
 * True errors of a registration over a grid of its supported region at given ranges: for tests and tables of accuracy,
 * where the truth is known.
 * @param rangesM distances along the ray; Infinity allowed
 * @param plane   a model to show beside it, e.g. the polynomial of degree 2
 */
export function assessRegistration(
  registration: Registration,
  truth: TrueRig,
  rangesM: readonly number[],
  plane: PlaneModel | null = null,
  gridPx = 16,
): MappingError[] {
  return rangesM.map((rangeM) => {
    const inverseRangePerM = 1 / rangeM;
    let squares = 0;
    let planeSquares = 0;
    let normalised = 0;
    let worstPx = 0;
    let pixels = 0;
    for (let v = 0; v < truth.uv.heightPx; v += gridPx)
      for (let u = 0; u < truth.uv.widthPx; u += gridPx) {
        // In the image region of the support; ranges are what this assesses.
        const middleOfSupport = 1 / registration.support.nearestM;
        if (supportAt(registration.support, u, v, middleOfSupport) !== 'supported') continue;
        const right = truePx(truth, u, v, inverseRangePerM);
        const mapped = colourFromUv(registration, uvPx(u, v), inverseRangePerM);
        if (!right || mapped.kind === 'refused') continue;
        const du = mapped.px[0] - right[0];
        const dv = mapped.px[1] - right[1];
        const [a, b, , d] = mapped.covariancePx2;
        pixels++;
        squares += du * du + dv * dv;
        worstPx = Math.max(worstPx, Math.hypot(du, dv));
        normalised += (d * du * du - 2 * b * du * dv + a * dv * dv) / (a * d - b * b) / 2;
        if (plane) {
          const [pu, pv] = applyPlaneModel(plane, u, v);
          planeSquares += (pu - right[0]) ** 2 + (pv - right[1]) ** 2;
        }
      }
    return {
      rangeM,
      rmsPx: Math.sqrt(squares / pixels),
      worstPx,
      normalisedSquare: normalised / pixels,
      pixels,
      planeRmsPx: plane ? Math.sqrt(planeSquares / pixels) : null,
    };
  });
}

function truePx(truth: TrueRig, u: number, v: number, inverseRangePerM: number): readonly [number, number] | null {
  const xy = undistort([u, v], truth.uv);
  if (!xy) return null;
  const k = 1 / Math.hypot(xy[0], xy[1], 1);
  const turned = multiplyVec(truth.colourFromUv.rotation, [xy[0] * k, xy[1] * k, k]);
  return projectPoint(add(turned, scale(truth.colourFromUv.translation, inverseRangePerM)), truth.colour);
}
