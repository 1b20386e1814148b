import { idealLens, type Lens } from '../camera/Lens.ts';
import type { Random } from '../maths/random.ts';
import type { PhotonEvents } from '../photon/PhotonEvents.ts';
import type { EventRays, FramePoses, SearchCorridor } from './EventRays.ts';

/** A source of a fly-past: where it is at time 0, how it moves, how often it gives an event. */
export interface FlyPastSource {
  readonly atEnuM: readonly [number, number, number];
  readonly velocityEnuMps?: readonly [number, number, number];
  /** Mean events in a frame while it is in view. */
  readonly perFrame: number;
  /** Frames in which it shines, first and last; always where missing. */
  readonly shines?: readonly [number, number];
  /** Events come in bunches of this mean size (geometric), as pulses of a discharge do; 1 = single. */
  readonly bunch?: number;
  /** Standard deviation of where its light comes from, on each axis, m; a point where missing. */
  readonly sizeM?: number;
  /** Rate at a time over its mean, and the most that can be; steady where missing. */
  readonly flicker?: { readonly at: (seconds: number) => number; readonly most: number };
}

export interface FlyPast {
  readonly frames: number;
  readonly backgroundPerFrame: number;
  readonly sources: readonly FlyPastSource[];
  readonly widthPx?: number;
  readonly heightPx?: number;
  readonly focalPx?: number;
  readonly speedMps?: number;
  readonly exposureMs?: number;
  /** Scatter of a point source's events by lens and intensifier. */
  readonly blurPx?: number;
}

const FRAME_S = 0.02;

/** The line of the fly-past: level, 40 m north of the camera's path, which runs east along the axis. */
export const LINE_CORRIDOR: SearchCorridor = {
  segments: [{ fromEnuM: [-500, 40, 0], toEnuM: [5000, 40, 0] }],
  radiusM: 6,
  nearestM: 15,
  farthestM: 90,
};

/** Pose of the camera at a time: flies east, looks north, sways a little in yaw and pitch (1 degree, seconds). */
function poseAt(seconds: number, speedMps: number): { origin: number[]; uvFromEnu: number[] } {
  const yaw = 0.017 * Math.sin(0.9 * seconds);
  const pitch = 0.012 * Math.sin(1.3 * seconds + 1);
  const [cy, sy, cp, sp] = [Math.cos(yaw), Math.sin(yaw), Math.cos(pitch), Math.sin(pitch)];
  // Rx(pitch) Ry(yaw) applied to axes x = east, y = down, z = north.
  return {
    origin: [speedMps * seconds, 0.3 * Math.sin(0.7 * seconds), 0.2 * Math.sin(0.5 * seconds)],
    uvFromEnu: [cy, sy, 0, sp * sy, -sp * cy, -cp, -cp * sy, cp * cy, -sp],
  };
}

export interface FlownPast {
  readonly events: PhotonEvents;
  readonly rays: EventRays;
  readonly poses: FramePoses;
  readonly lens: Lens;
  /** Number of the source of each event, -1 for background. */
  readonly sourceOf: readonly number[];
}

/** Events of a fly-past drawn one by one: Poisson background over the picture, sources smeared by the true motion. */
export function flyPast(random: Random, past: FlyPast): FlownPast {
  const lens = idealLens(past.widthPx ?? 640, past.heightPx ?? 512, past.focalPx ?? 1000);
  const { widthPx, heightPx } = lens;
  const speedMps = past.speedMps ?? 15;
  const exposureS = (past.exposureMs ?? 18) / 1000;
  const blurPx = past.blurPx ?? 0.9;
  const poses = {
    count: past.frames,
    frame: Int32Array.from({ length: past.frames }, (_, i) => i),
    tNs: Float64Array.from({ length: past.frames }, (_, i) => i * FRAME_S * 1e9),
    exposureNs: new Float64Array(past.frames).fill(exposureS * 1e9),
    originEnuM: new Float64Array(3 * past.frames),
    uvFromEnu: new Float64Array(9 * past.frames),
  };
  const found: { frame: number; u: number; v: number; source: number }[] = [];
  for (let i = 0; i < past.frames; i++) {
    const pose = poseAt(i * FRAME_S, speedMps);
    poses.originEnuM.set(pose.origin, 3 * i);
    poses.uvFromEnu.set(pose.uvFromEnu, 9 * i);
    const background = random.poisson(past.backgroundPerFrame);
    for (let k = 0; k < background; k++)
      found.push({
        frame: i,
        u: random.uniform() * widthPx - 0.5,
        v: random.uniform() * heightPx - 0.5,
        source: -1,
      });
    past.sources.forEach((source, number) => {
      if (source.shines && (i < source.shines[0] || i > source.shines[1])) return;
      const bunch = source.bunch ?? 1;
      const { flicker } = source;
      for (let n = random.poisson((source.perFrame / bunch) * (flicker?.most ?? 1)); n > 0; n--) {
        const seconds = i * FRAME_S + (random.uniform() - 0.5) * exposureS;
        if (flicker && random.uniform() * flicker.most > flicker.at(seconds)) continue;
        let size = 1;
        while (random.uniform() > 1 / bunch) size++;
        for (let k = 0; k < size; k++) {
          const { origin, uvFromEnu: m } = poseAt(seconds, speedMps);
          const e = source.atEnuM.map((x, c) => {
            const off = source.sizeM ? source.sizeM * random.normal() : 0;
            return x + off + (source.velocityEnuMps?.[c] ?? 0) * seconds - origin[c];
          });
          const z = m[6] * e[0] + m[7] * e[1] + m[8] * e[2];
          if (z <= 0) continue;
          const u = (lens.fxPx * (m[0] * e[0] + m[1] * e[1] + m[2] * e[2])) / z + lens.cxPx + blurPx * random.normal();
          const v = (lens.fyPx * (m[3] * e[0] + m[4] * e[1] + m[5] * e[2])) / z + lens.cyPx + blurPx * random.normal();
          if (u < -0.5 || v < -0.5 || u > widthPx - 0.5 || v > heightPx - 0.5) continue;
          found.push({ frame: i, u, v, source: number });
        }
      }
    });
  }
  const count = found.length;
  const events: PhotonEvents = {
    count,
    frame: Int32Array.from(found, (f) => f.frame),
    tNs: Float64Array.from(found, (f) => f.frame * FRAME_S * 1e9),
    xPx: Float64Array.from(found, (f) => f.u),
    yPx: Float64Array.from(found, (f) => f.v),
    charge: new Float32Array(count).fill(120),
    sigmaPx: new Float32Array(count).fill(0.1),
    flags: new Uint8Array(count),
  };
  const originEnuM = new Float64Array(3 * count);
  const directionEnu = new Float64Array(3 * count);
  found.forEach(({ frame, u, v }, k) => {
    originEnuM.set(poses.originEnuM.subarray(3 * frame, 3 * frame + 3), 3 * k);
    const [x, y] = [(u - lens.cxPx) / lens.fxPx, (v - lens.cyPx) / lens.fyPx];
    const m = poses.uvFromEnu.subarray(9 * frame, 9 * frame + 9);
    const length = Math.hypot(x, y, 1);
    for (let c = 0; c < 3; c++) directionEnu[3 * k + c] = (m[c] * x + m[3 + c] * y + m[6 + c]) / length;
  });
  const rays: EventRays = {
    count,
    event: Int32Array.from({ length: count }, (_, k) => k),
    frame: events.frame,
    tNs: events.tNs,
    originEnuM,
    directionEnu,
    sigmaRad: new Float64Array(count).fill(blurPx / lens.fxPx),
  };
  return { events, rays, poses, lens, sourceOf: found.map((f) => f.source) };
}
