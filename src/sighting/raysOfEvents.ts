import type { Lens } from '../camera/Lens.ts';
import { distortionDerivative } from '../camera/projectPoint.ts';
import { rayFromPixel } from '../camera/rayFromPixel.ts';
import { NOT_A_PHOTON, type PhotonEvents } from '../photon/PhotonEvents.ts';
import type { EventRays, FramePoses } from './EventRays.ts';

/**
 * The ray of each photon event that is one, has a pose, and lies inside the lens.
 * @param events      in order of frame
 * @param blurSigmaPx scatter of a point source's events by lens and intensifier, added in quadrature to each event's own
 * Sigma is isotropic; the smear of the scene during an exposure is left to those who know the range.
 */
export function raysOfEvents(events: PhotonEvents, poses: FramePoses, lens: Lens, blurSigmaPx: number): EventRays {
  const n = events.count;
  const event = new Int32Array(n);
  const frame = new Int32Array(n);
  const tNs = new Float64Array(n);
  const originEnuM = new Float64Array(3 * n);
  const directionEnu = new Float64Array(3 * n);
  const sigmaRad = new Float64Array(n);
  let count = 0;
  let pose = 0;
  for (let i = 0; i < n; i++) {
    if ((events.flags[i] & NOT_A_PHOTON) !== 0) continue;
    while (pose < poses.count && poses.frame[pose] < events.frame[i]) pose++;
    if (pose === poses.count) break;
    if (poses.frame[pose] !== events.frame[i]) continue;
    const ray = rayFromPixel([events.xPx[i], events.yPx[i]], lens);
    if (!ray) continue;
    event[count] = i;
    frame[count] = events.frame[i];
    tNs[count] = events.tNs[i];
    const r = 9 * pose;
    for (let axis = 0; axis < 3; axis++) {
      originEnuM[3 * count + axis] = poses.originEnuM[3 * pose + axis];
      // enuFromUv is the transpose of uvFromEnu: column `axis` of the stored rows.
      directionEnu[3 * count + axis] =
        poses.uvFromEnu[r + axis] * ray[0] +
        poses.uvFromEnu[r + 3 + axis] * ray[1] +
        poses.uvFromEnu[r + 6 + axis] * ray[2];
    }
    sigmaRad[count] = Math.hypot(events.sigmaPx[i], blurSigmaPx) * radPerPx(ray, lens);
    count++;
  }
  return {
    count,
    event: event.subarray(0, count),
    frame: frame.subarray(0, count),
    tNs: tNs.subarray(0, count),
    originEnuM: originEnuM.subarray(0, 3 * count),
    directionEnu: directionEnu.subarray(0, 3 * count),
    sigmaRad: sigmaRad.subarray(0, count),
  };
}

/**
 * Angle that a pixel spans in the direction of a ray: the root of the solid angle of one pixel, which off the axis is smaller
 * than 1 / f, by the third power of the cosine and by the distortion.
 */
function radPerPx([x, y, z]: readonly [number, number, number], lens: Lens): number {
  const [a, b, c, d] = distortionDerivative(x / z, y / z, lens);
  return Math.sqrt(z ** 3 / (lens.fxPx * lens.fyPx * Math.abs(a * d - b * c)));
}
