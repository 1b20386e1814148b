import type { Lens } from '../../camera/Lens.ts';
import { projectPoint } from '../../camera/projectPoint.ts';
import { ENU_FROM_NED } from '../../earth/LocalFrame.ts';
import { radFromDeg } from '../../maths/angle.ts';
import { multiply, multiplyVec, transpose } from '../../maths/mat3.ts';
import { rotationZ } from '../../maths/rotation.ts';
import { norm, scale, subtract, unit, type Vec3 } from '../../maths/vec3.ts';
import type { Mounting } from '../../rig/Mounting.ts';
import type { EventRays, FramePoses } from '../../sighting/EventRays.ts';
import { pointInUvM } from '../../sighting/framePoses.ts';
import type { Sighting } from '../../sighting/Sighting.ts';
import { cameraLook } from './cameraLook.ts';

/** A level, straight pass beside a line that runs east through the origin, with the camera's axis held across the line. */
export interface PassGeometry {
  /** From the uv camera to the origin at the nearest, metres. */
  readonly standoffM: number;
  readonly speedMps: number;
  readonly frameRateHz: number;
  readonly exposureS: number;
  /** Which side of the line it is flown on. */
  readonly side: 'north' | 'south';
  readonly startNs: number;
  readonly mounting: Mounting;
  readonly lens: Lens;
}

/** More frames than this of one pass are a hover, not a pass. */
const MOST_FRAMES = 20_000;

/** Poses of all frames in which the origin can be inside the image, with some before and after. */
export function virtualPoses(pass: PassGeometry): FramePoses {
  const look = cameraLook(pass.mounting.bodyFromUv);
  const bearingDeg = pass.side === 'north' ? 180 : 0;
  const heading = radFromDeg(bearingDeg - look.azimuthDeg);
  // The nose goes with the flight as far as the camera allows; a camera that looks ahead flies sideways, to the east.
  const east = Math.sin(heading) < -1e-6 ? -1 : 1;
  const enuFromUvRotation = multiply(multiply(ENU_FROM_NED, rotationZ(heading)), pass.mounting.bodyFromUv.rotation);
  const axis = multiplyVec(enuFromUvRotation, [0, 0, 1]);
  const nearestM = scale(axis, -pass.standoffM);
  const { lens } = pass;
  const widest = Math.hypot(lens.widthPx / lens.fxPx, lens.heightPx / lens.fyPx) / 2;
  const reachM = 1.3 * pass.standoffM * widest + pass.speedMps / pass.frameRateHz;
  const stepM = pass.speedMps / pass.frameRateHz;
  const half = Math.min(MOST_FRAMES / 2, Math.ceil(reachM / stepM));
  const count = 2 * half + 1;
  const uvFromEnu = transpose(enuFromUvRotation);
  const poses = {
    count,
    frame: Int32Array.from({ length: count }, (_, i) => i),
    tNs: Float64Array.from({ length: count }, (_, i) => pass.startNs + (i * 1e9) / pass.frameRateHz),
    exposureNs: new Float64Array(count).fill(pass.exposureS * 1e9),
    originEnuM: new Float64Array(3 * count),
    uvFromEnu: new Float64Array(9 * count),
  };
  for (let i = 0; i < count; i++) {
    poses.originEnuM.set([nearestM[0] + east * (i - half) * stepM, nearestM[1], nearestM[2]], 3 * i);
    poses.uvFromEnu.set(uvFromEnu, 9 * i);
  }
  return poses;
}

/**
 * What a source at the origin leaves in such a pass: `events` rays without error, evenly dealt over the frames that see it.
 * @returns null where fewer than two frames see it
 */
export function virtualSighting(
  id: string,
  pass: PassGeometry,
  events: number,
  eventSigmaPx: number,
): { readonly sighting: Sighting; readonly rays: EventRays; readonly poses: FramePoses } | null {
  const poses = virtualPoses(pass);
  const { lens } = pass;
  const seen: number[] = [];
  for (let i = 0; i < poses.count; i++) {
    const px = projectPoint(pointInUvM(poses, i, [0, 0, 0]), lens);
    if (px && px[0] >= 0 && px[1] >= 0 && px[0] <= lens.widthPx - 1 && px[1] <= lens.heightPx - 1) seen.push(i);
  }
  const n = Math.min(Math.max(2, Math.round(events)), seen.length);
  if (n < 2) return null;
  const rows = Array.from({ length: n }, (_, k) => seen[Math.floor(((k + 0.5) * seen.length) / n)]);
  const originOf = (row: number): Vec3 => [
    poses.originEnuM[3 * row],
    poses.originEnuM[3 * row + 1],
    poses.originEnuM[3 * row + 2],
  ];
  const rays: EventRays = {
    count: n,
    event: Int32Array.from({ length: n }, (_, k) => k),
    frame: Int32Array.from(rows),
    tNs: Float64Array.from(rows, (row) => poses.tNs[row]),
    originEnuM: Float64Array.from(rows.flatMap((row) => originOf(row))),
    directionEnu: Float64Array.from(rows.flatMap((row) => unit(subtract([0, 0, 0], originOf(row))))),
    sigmaRad: Float64Array.from(rows, (row) => {
      // Off the axis a pixel is narrower: by cos² along the radius and cos across it.
      const inUv = pointInUvM(poses, row, [0, 0, 0]);
      return (eventSigmaPx / Math.sqrt(lens.fxPx * lens.fyPx)) * (inUv[2] / norm(inUv)) ** 1.5;
    }),
  };
  const sighting: Sighting = {
    id,
    rays: Int32Array.from({ length: n }, (_, k) => k),
    membership: new Float64Array(n).fill(1),
    fromNs: poses.tNs[seen[0]],
    toNs: poses.tNs[seen[seen.length - 1]],
    framesInView: seen.length,
    seedEnuM: [0, 0, 0],
    logLikelihoodRatio: 0,
    expectedBackground: 0,
    falseAlarmsPerHour: 0,
    suspicions: [],
  };
  return { sighting, rays, poses };
}
