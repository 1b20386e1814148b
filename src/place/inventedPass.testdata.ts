import type { Lens } from '../camera/Lens.ts';
import { distortionDerivative, projectPoint } from '../camera/projectPoint.ts';
import { rayFromPixel } from '../camera/rayFromPixel.ts';
import { diagonal3, type Mat3, multiply, multiplyVec, transpose } from '../maths/mat3.ts';
import type { Random } from '../maths/random.ts';
import { rotationFromVector, rotationFromYawPitchRoll } from '../maths/rotation.ts';
import { add, subtract, type Vec3 } from '../maths/vec3.ts';
import type { EventRays, FramePoses } from '../sighting/EventRays.ts';
import type { Sighting } from '../sighting/Sighting.ts';
import type { SystematicErrors } from './SystematicErrors.ts';

/**
 * A pass flown for tests: a true path, a true camera, and what the recorder would report of both with every error drawn
 * from its stated deviation. Rays come from pixels through nominal values, as in a real flight.
 */
export const LENS: Lens = {
  widthPx: 1280,
  heightPx: 1024,
  fxPx: 1000,
  fyPx: 1000,
  cxPx: 640,
  cyPx: 512,
  k1: -0.12,
  k2: 0.03,
  p1: 0.0005,
  p2: -0.0003,
  k3: 0,
};
const DEG = Math.PI / 180;
/** Looking out to the right of the body: image right is backwards, image down is down. */
const BODY_FROM_UV: Mat3 = [-1, 0, 0, 0, 0, 1, 0, 1, 0];
const ENU_FROM_NED: Mat3 = [0, 1, 0, 1, 0, 0, 0, 0, -1];
const LEVER: Vec3 = [0.32, 0.18, 0.11];
const LENS_SIGMA = [0.6, 0.6, 0.5, 0.5, 2e-3, 4e-3, 1e-4, 1e-4, 0];

/** Survey grade: GNSS 2 and 3 cm, attitude 0.015 and 0.04 degrees, boresight 0.02 degrees, lever arm 1 cm, time 1 ms. */
export const ERRORS: SystematicErrors = {
  positionSigmaEnuM: [0.02, 0.02, 0.03],
  attitudeSigmaRad: { roll: 0.015 * DEG, pitch: 0.015 * DEG, heading: 0.04 * DEG },
  positionCorrelationS: 120,
  attitudeCorrelationS: 80,
  mounting: {
    bodyFromUv: { rotation: BODY_FROM_UV, translation: LEVER },
    leverArmCovarianceM2: diagonal3(1e-4, 1e-4, 1e-4),
    boresightCovarianceRad2: diagonal3((0.02 * DEG) ** 2, (0.02 * DEG) ** 2, (0.02 * DEG) ** 2),
    timeOffsetNs: 0,
    timeOffsetSigmaNs: 1e6,
  },
  lens: LENS,
  lensCovariance: Float64Array.from({ length: 81 }, (_, i) => (i % 10 === 0 ? LENS_SIGMA[i / 10] ** 2 : 0)),
};

/** One draw of everything that a rig gets wrong, and of what one pass gets wrong. */
export interface RigDraw {
  readonly boresightRad: Vec3;
  readonly leverM: Vec3;
  readonly timeS: number;
  readonly lens: Lens;
}
export interface PassDraw {
  readonly positionM: Vec3;
  /** roll, pitch, heading. */
  readonly attitudeRad: Vec3;
}

const normals = (random: Random): Vec3 => [random.normal(), random.normal(), random.normal()];

export function drawRig(random: Random): RigDraw {
  const l = LENS_SIGMA.map((sigma) => sigma * random.normal());
  return {
    boresightRad: normals(random).map((z) => z * 0.02 * DEG) as unknown as Vec3,
    leverM: normals(random).map((z) => z * 0.01) as unknown as Vec3,
    timeS: random.normal() * 1e-3,
    lens: {
      ...LENS,
      fxPx: LENS.fxPx + l[0],
      fyPx: LENS.fyPx + l[1],
      cxPx: LENS.cxPx + l[2],
      cyPx: LENS.cyPx + l[3],
      k1: LENS.k1 + l[4],
      k2: LENS.k2 + l[5],
      p1: LENS.p1 + l[6],
      p2: LENS.p2 + l[7],
      k3: LENS.k3 + l[8],
    },
  };
}

/** A pass' errors, correlated with those of a pass some seconds before. */
export function drawPass(random: Random, before?: { readonly draw: PassDraw; readonly secondsAgo: number }): PassDraw {
  const next = (tau: number, sigmas: Vec3, old?: Vec3): Vec3 => {
    const rho = before ? Math.exp(-before.secondsAgo / tau) : 0;
    return sigmas.map(
      (s, i) => rho * (old?.[i] ?? 0) + Math.sqrt(1 - rho * rho) * s * random.normal(),
    ) as unknown as Vec3;
  };
  const { roll, pitch, heading } = ERRORS.attitudeSigmaRad;
  return {
    positionM: next(ERRORS.positionCorrelationS, ERRORS.positionSigmaEnuM, before?.draw.positionM),
    attitudeRad: next(ERRORS.attitudeCorrelationS, [roll, pitch, heading], before?.draw.attitudeRad),
  };
}

export interface PassPlan {
  /** Closest approach in the middle of the pass. */
  readonly standoffM: number;
  readonly speedMps: number;
  readonly exposureS: number;
  /** The pass covers this angle to either side of abeam. */
  readonly halfAngleDeg: number;
  readonly events: number;
  readonly pixelSigmaPx: number;
  /** +1 flies east, south of nothing: north of the line looking south; -1 the way back on the other side. */
  readonly way: 1 | -1;
  readonly startNs: number;
}

const FRAME_S = 0.02;

/** True body pose at a time from the middle of the pass: a straight line with gusts. */
function truePose(plan: PassPlan, t: number): { positionEnuM: Vec3; attitude: Vec3 } {
  const along = plan.speedMps * t;
  return {
    positionEnuM: [
      plan.way * along,
      plan.way * (plan.standoffM + 0.3 * Math.sin(1.9 * t + 1)),
      41 + 0.25 * Math.sin(2.3 * t),
    ],
    attitude: [
      2.1 * DEG * Math.sin(2.7 * t + 0.4),
      1.4 * DEG * Math.sin(3.1 * t + 2),
      (plan.way > 0 ? 90 : 270) * DEG + 1.7 * DEG * Math.sin(1.3 * t),
    ],
  };
}

const enuFromBodyAt = ([roll, pitch, heading]: Vec3): Mat3 =>
  multiply(ENU_FROM_NED, rotationFromYawPitchRoll(heading, pitch, roll));

/** Flies the plan past sources at rest and reports rays for each, one sighting a source. */
export function flyPass(
  sourcesEnuM: readonly Vec3[],
  plan: PassPlan,
  rig: RigDraw,
  pass: PassDraw,
  random: Random,
): { rays: EventRays; poses: FramePoses; sightings: Sighting[] } {
  const half = (plan.standoffM * Math.tan(plan.halfAngleDeg * DEG)) / plan.speedMps;
  const frames = Math.floor((2 * half) / FRAME_S) + 1;
  const trueBodyFromUv = multiply(rotationFromVector(rig.boresightRad), BODY_FROM_UV);
  const reported = (t: number): { origin: Vec3; enuFromUv: Mat3 } => {
    // The stamp is early by the time offset: the trajectory is read for another instant.
    const pose = truePose(plan, t - rig.timeS);
    const enuFromBody = enuFromBodyAt(add(pose.attitude, pass.attitudeRad));
    return {
      origin: add(add(pose.positionEnuM, pass.positionM), multiplyVec(enuFromBody, LEVER)),
      enuFromUv: multiply(enuFromBody, BODY_FROM_UV),
    };
  };
  const poses = {
    count: frames,
    frame: Int32Array.from({ length: frames }, (_, i) => i),
    tNs: Float64Array.from({ length: frames }, (_, i) => plan.startNs + i * FRAME_S * 1e9),
    exposureNs: new Float64Array(frames).fill(plan.exposureS * 1e9),
    originEnuM: new Float64Array(3 * frames),
    uvFromEnu: new Float64Array(9 * frames),
  };
  for (let i = 0; i < frames; i++) {
    const { origin, enuFromUv } = reported(-half + i * FRAME_S);
    poses.originEnuM.set(origin, 3 * i);
    poses.uvFromEnu.set(transpose(enuFromUv), 9 * i);
  }
  const rows: { frame: number; direction: Vec3; origin: Vec3; sigmaRad: number }[] = [];
  const sightings = sourcesEnuM.map((source, s): Sighting => {
    const first = rows.length;
    for (let tries = 0; rows.length - first < plan.events && tries < 100 * plan.events; tries++) {
      const frame = Math.floor(random.uniform() * frames);
      const t = -half + frame * FRAME_S;
      const pose = truePose(plan, t + (random.uniform() - 0.5) * plan.exposureS);
      const enuFromBody = enuFromBodyAt(pose.attitude);
      const origin = add(pose.positionEnuM, multiplyVec(enuFromBody, add(LEVER, rig.leverM)));
      const uv = multiplyVec(transpose(multiply(enuFromBody, trueBodyFromUv)), subtract(source, origin));
      const px = projectPoint(uv, rig.lens);
      if (!px) continue;
      const seen = [px[0] + plan.pixelSigmaPx * random.normal(), px[1] + plan.pixelSigmaPx * random.normal()] as const;
      const direction = rayFromPixel(seen, LENS);
      if (!direction) continue;
      const report = reported(t);
      rows.push({
        frame,
        direction: multiplyVec(report.enuFromUv, direction),
        origin: report.origin,
        sigmaRad: plan.pixelSigmaPx * radPerPx(direction),
      });
    }
    return {
      id: `${plan.startNs / 1e9}-${s}`,
      rays: Int32Array.from({ length: rows.length - first }, (_, i) => first + i),
      membership: new Float64Array(rows.length - first).fill(1),
      fromNs: poses.tNs[0],
      toNs: poses.tNs[frames - 1],
      framesInView: frames,
      seedEnuM: add(source, [0.4, -0.7, 0.3]),
      logLikelihoodRatio: 30,
      expectedBackground: 0.2,
      falseAlarmsPerHour: 1e-6,
      suspicions: [],
    };
  });
  return {
    sightings,
    poses,
    rays: {
      count: rows.length,
      event: Int32Array.from(rows, (_, i) => i),
      frame: Int32Array.from(rows, (r) => r.frame),
      tNs: Float64Array.from(rows, (r) => poses.tNs[r.frame]),
      originEnuM: Float64Array.from(rows.flatMap((r) => r.origin)),
      directionEnu: Float64Array.from(rows.flatMap((r) => r.direction)),
      sigmaRad: Float64Array.from(rows, (r) => r.sigmaRad),
    },
  };
}

/**
 * Angle of a pixel, mean of both directions: off the axis it is narrower, by cos² along the radius and cos across it, and
 * the distortion stretches it.
 */
function radPerPx([x, y, z]: Vec3): number {
  const [a, b, c, d] = distortionDerivative(x / z, y / z, LENS);
  return z ** 1.5 / (LENS.fxPx * Math.sqrt(a * d - b * c));
}
