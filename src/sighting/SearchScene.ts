import type { Lens } from '../camera/Lens.ts';
import { foldRadiusSquared } from '../camera/projectPoint.ts';
import { undistort } from '../camera/rayFromPixel.ts';
import { NOT_A_PHOTON, type PhotonEvents } from '../photon/PhotonEvents.ts';
import type { EventRays, FramePoses } from './EventRays.ts';

/**
 * A stretch of flight laid out for searching: poses by number, events sorted by pose. Events here are those that may be
 * photons and have a ray; `ray` leads back to the row of EventRays.
 */
export interface SearchScene {
  readonly lens: Lens;
  readonly foldRadius2: number;
  /** Box around all undistorted directions (X/Z, Y/Z) in the picture, with a rim of a hundredth. */
  readonly field: { readonly left: number; readonly right: number; readonly top: number; readonly bottom: number };
  readonly poseCount: number;
  readonly tNs: Float64Array;
  readonly exposureNs: Float64Array;
  readonly originEnuM: Float64Array;
  readonly uvFromEnu: Float64Array;
  readonly count: number;
  readonly ray: Int32Array;
  readonly pose: Int32Array;
  /** Where the event lies in the image, px, with the lens's distortion. */
  readonly xPx: Float64Array;
  readonly yPx: Float64Array;
  /** Its undistorted direction (X/Z, Y/Z) in the camera frame. */
  readonly xn: Float64Array;
  readonly yn: Float64Array;
  /** Variance of the place across the ray, px². */
  readonly variancePx2: Float64Array;
  readonly largestVariancePx2: number;
  readonly meanVariancePx2: number;
  /** Events of pose p are rows firstOfPose[p] to firstOfPose[p + 1] - 1, in order of yn. */
  readonly firstOfPose: Int32Array;
}

export function layOutScene(
  events: PhotonEvents,
  rays: EventRays,
  poses: FramePoses,
  lens: Lens,
  extraSigmaPx: number,
): SearchScene {
  const poseOfFrame = new Map<number, number>();
  for (let p = 0; p < poses.count; p++) poseOfFrame.set(poses.frame[p], p);
  const rows: number[] = [];
  const poseOfRow: number[] = [];
  const xn: number[] = [];
  const yn: number[] = [];
  const m = poses.uvFromEnu;
  for (let r = 0; r < rays.count; r++) {
    const pose = poseOfFrame.get(rays.frame[r]);
    if (pose === undefined || (events.flags[rays.event[r]] & NOT_A_PHOTON) !== 0) continue;
    const R = pose * 9;
    const [dx, dy, dz] = [rays.directionEnu[3 * r], rays.directionEnu[3 * r + 1], rays.directionEnu[3 * r + 2]];
    const z = m[R + 6] * dx + m[R + 7] * dy + m[R + 8] * dz;
    rows.push(r);
    poseOfRow.push(pose);
    xn.push((m[R] * dx + m[R + 1] * dy + m[R + 2] * dz) / z);
    yn.push((m[R + 3] * dx + m[R + 4] * dy + m[R + 5] * dz) / z);
  }
  const order = orderOfRows(poseOfRow, yn);
  const count = order.length;
  const focalPx = Math.sqrt(lens.fxPx * lens.fyPx);
  const scene = {
    lens,
    foldRadius2: foldRadiusSquared(lens),
    field: fieldOf(lens),
    poseCount: poses.count,
    tNs: poses.tNs,
    exposureNs: poses.exposureNs,
    originEnuM: poses.originEnuM,
    uvFromEnu: poses.uvFromEnu,
    count,
    ray: new Int32Array(count),
    pose: new Int32Array(count),
    xPx: new Float64Array(count),
    yPx: new Float64Array(count),
    xn: new Float64Array(count),
    yn: new Float64Array(count),
    variancePx2: new Float64Array(count),
    largestVariancePx2: 0,
    meanVariancePx2: 1,
    firstOfPose: new Int32Array(poses.count + 1),
  };
  order.forEach((i, k) => {
    const r = rows[i];
    const p = poseOfRow[i];
    const event = rays.event[r];
    scene.ray[k] = r;
    scene.pose[k] = p;
    scene.xPx[k] = events.xPx[event];
    scene.yPx[k] = events.yPx[event];
    scene.xn[k] = xn[i];
    scene.yn[k] = yn[i];
    scene.variancePx2[k] = (rays.sigmaRad[r] * focalPx) ** 2 + extraSigmaPx * extraSigmaPx;
    scene.largestVariancePx2 = Math.max(scene.largestVariancePx2, scene.variancePx2[k]);
    scene.firstOfPose[p + 1]++;
  });
  for (let p = 0; p < poses.count; p++) scene.firstOfPose[p + 1] += scene.firstOfPose[p];
  if (count > 0) scene.meanVariancePx2 = scene.variancePx2.reduce((sum, v) => sum + v, 0) / count;
  return scene;
}

/** Rows in the order of a scene: by pose, then from the top of the picture down. */
export const orderOfRows = (pose: ArrayLike<number>, yn: ArrayLike<number>): number[] =>
  Array.from(pose, (_, i) => i).sort((a, b) => pose[a] - pose[b] || yn[a] - yn[b] || a - b);

function fieldOf(lens: Lens): SearchScene['field'] {
  const x: number[] = [];
  const y: number[] = [];
  for (let i = 0; i <= 16; i++) {
    const u = ((lens.widthPx - 1) * i) / 16;
    const v = ((lens.heightPx - 1) * i) / 16;
    const rim: [number, number][] = [
      [u, 0],
      [u, lens.heightPx - 1],
      [0, v],
      [lens.widthPx - 1, v],
    ];
    for (const at of rim) {
      // Beyond the fold of the lens nothing is seen; a pixel there bounds nothing.
      const direction = undistort(at, lens) ?? [(at[0] - lens.cxPx) / lens.fxPx, (at[1] - lens.cyPx) / lens.fyPx];
      x.push(direction[0]);
      y.push(direction[1]);
    }
  }
  return {
    left: Math.min(...x) - 0.01,
    right: Math.max(...x) + 0.01,
    top: Math.min(...y) - 0.01,
    bottom: Math.max(...y) + 0.01,
  };
}

/** Pixel of a point in a pose, written to out[0], out[1]; false behind the camera or beyond the fold of the lens. */
export function projectIntoPose(
  out: Float64Array,
  scene: SearchScene,
  pose: number,
  xM: number,
  yM: number,
  zM: number,
): boolean {
  const m = scene.uvFromEnu;
  const R = pose * 9;
  const O = pose * 3;
  const ex = xM - scene.originEnuM[O];
  const ey = yM - scene.originEnuM[O + 1];
  const ez = zM - scene.originEnuM[O + 2];
  const Z = m[R + 6] * ex + m[R + 7] * ey + m[R + 8] * ez;
  if (!(Z > 0)) return false;
  const x = (m[R] * ex + m[R + 1] * ey + m[R + 2] * ez) / Z;
  const y = (m[R + 3] * ex + m[R + 4] * ey + m[R + 5] * ez) / Z;
  const r2 = x * x + y * y;
  if (r2 >= scene.foldRadius2) return false;
  const { lens } = scene;
  const radial = 1 + r2 * (lens.k1 + r2 * (lens.k2 + r2 * lens.k3));
  out[0] = lens.fxPx * (x * radial + 2 * lens.p1 * x * y + lens.p2 * (r2 + 2 * x * x)) + lens.cxPx;
  out[1] = lens.fyPx * (y * radial + lens.p1 * (r2 + 2 * y * y) + 2 * lens.p2 * x * y) + lens.cyPx;
  return true;
}

export const insideImage = (lens: Lens, u: number, v: number): boolean =>
  u >= -0.5 && v >= -0.5 && u <= lens.widthPx - 0.5 && v <= lens.heightPx - 0.5;
