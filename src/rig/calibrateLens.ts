import { idealLens, type Lens } from '../camera/Lens.ts';
import type { Mat3 } from '../maths/mat3.ts';
import type { RigidTransform } from '../maths/rigidTransform.ts';
import type { RobustLoss } from '../maths/robustLoss.ts';
import type { Vec3 } from '../maths/vec3.ts';
import { adjustBundle, type BundleFrame, type BundleSolution } from './bundle.ts';
import { directHomography } from './homography.ts';
import { poseFromHomography } from './planePose.ts';

/** A flat target as one camera saw it: `px[i]` belongs to `targetM[i]`. */
export interface TargetView {
  readonly name: string;
  readonly px: readonly (readonly [number, number])[];
}

export interface LensCalibration {
  readonly kind: 'calibrated';
  readonly lens: Lens;
  /** Root of the mean squared distance per point, px, as OpenCV quotes it. */
  readonly rmsPx: number;
  readonly viewRmsPx: readonly { readonly name: string; readonly rmsPx: number }[];
  readonly camFromTarget: readonly RigidTransform[];
  /** Standard deviations in the order of LENS_PARAMETERS, from the scatter of the residuals. */
  readonly sigma: readonly number[];
  readonly iterations: number;
}

export type LensCalibrationOutcome = LensCalibration | { readonly kind: 'refused'; readonly because: string };

/**
 * One lens from views of a flat target whose points are known exactly: all nine parameters, no priors.
 * @param targetM   points with z = 0, metres (or any unit)
 * @param views     at least three attitudes of the target
 * @param fixed     lens parameters (index into LENS_PARAMETERS) to hold at zero distortion, e.g. [8] for k3
 * @param loss      robust loss on residuals in pixels; none for the plain least squares that others publish
 */
export function calibrateLens(
  targetM: readonly Vec3[],
  views: readonly TargetView[],
  size: { readonly widthPx: number; readonly heightPx: number },
  options: { readonly fixed?: readonly number[]; readonly loss?: RobustLoss } = {},
): LensCalibrationOutcome {
  const middle = idealLens(size.widthPx, size.heightPx, 1);
  const flat = targetM.map((p) => [p[0], p[1]] as const);
  const planes = views.map((view) =>
    directHomography(
      flat,
      view.px.map(([u, v]) => [u - middle.cxPx, v - middle.cyPx] as const),
    ),
  );
  const start = lensFromPlanes(planes, size);
  if (!start) return { kind: 'refused', because: 'the views do not fix a focal length: show the target turned more' };
  const frames: BundleFrame[] = [];
  for (const [i, view] of views.entries()) {
    const h = planes[i];
    // The start has no distortion, so that its rays are its pixels but for scale.
    const pose =
      h &&
      poseFromHomography([
        h[0] / start.fxPx,
        h[1] / start.fxPx,
        h[2] / start.fxPx,
        h[3] / start.fyPx,
        h[4] / start.fyPx,
        h[5] / start.fyPx,
        h[6],
        h[7],
        h[8],
      ]);
    if (!pose) return { kind: 'refused', because: `no pose for view ${view.name}` };
    frames.push({
      camFromTarget: pose,
      observations: view.px.map(([u, v], point) => ({ camera: 0 as const, point, u, v, sigmaPx: 1 })),
    });
  }
  const outcome = adjustBundle({
    lenses: [start],
    targetPointsM: targetM,
    targetSigmaM: 0,
    frames,
    fixed: options.fixed,
    loss: options.loss,
    maxIterations: 200,
  });
  if (outcome.kind === 'refused') return { kind: 'refused', because: `adjustment: ${outcome.because}` };
  const variance = outcome.chiSquare / outcome.degreesOfFreedom;
  return {
    kind: 'calibrated',
    lens: outcome.lenses[0],
    rmsPx: Math.sqrt((2 * outcome.chiSquare) / outcome.residualsPx.length),
    viewRmsPx: viewRms(outcome, views),
    camFromTarget: outcome.camFromTarget,
    sigma: Array.from({ length: 9 }, (_, i) => Math.sqrt(variance * outcome.covariance.get(i, i))),
    iterations: outcome.iterations,
  };
}

function viewRms(outcome: BundleSolution, views: readonly TargetView[]): { name: string; rmsPx: number }[] {
  let at = 0;
  return views.map((view) => {
    let sum = 0;
    for (let i = 0; i < 2 * view.px.length; i++) sum += outcome.residualsPx[at++] ** 2;
    return { name: view.name, rmsPx: Math.sqrt(sum / view.px.length) };
  });
}

/**
 * Focal lengths from the images of planes, the principal point taken in the middle of the image, from where the pixels of
 * the homographies count: least squares on Zhang's two conditions for each view, which are linear in 1/fx² and 1/fy².
 * Source: Zhang, IEEE PAMI 22 (2000) 1330, eq. 3 and 4 (from memory).
 */
export function lensFromPlanes(
  planes: readonly (Mat3 | null)[],
  size: { readonly widthPx: number; readonly heightPx: number },
): Lens | null {
  const middle = idealLens(size.widthPx, size.heightPx, 1);
  let aa = 0;
  let ab = 0;
  let bb = 0;
  let ar = 0;
  let br = 0;
  for (const h of planes) {
    if (!h) return null;
    const k = 1 / Math.sqrt(Math.hypot(h[0], h[3], h[6]) * Math.hypot(h[1], h[4], h[7]));
    const [h0, h1, , h3, h4, , h6, h7] = h.map((x) => x * k);
    for (const [a, b, r] of [
      [h0 * h1, h3 * h4, -h6 * h7],
      [h0 * h0 - h1 * h1, h3 * h3 - h4 * h4, h7 * h7 - h6 * h6],
    ]) {
      aa += a * a;
      ab += a * b;
      bb += b * b;
      ar += a * r;
      br += b * r;
    }
  }
  const det = aa * bb - ab * ab;
  const x = (bb * ar - ab * br) / det;
  const y = (aa * br - ab * ar) / det;
  if (!(x > 0 && y > 0)) return null;
  return { ...middle, fxPx: 1 / Math.sqrt(x), fyPx: 1 / Math.sqrt(y) };
}
