import { idealLens } from '../../camera/Lens.ts';
import { localFrameAt } from '../../earth/LocalFrame.ts';
import { diagonal3, type Mat3, multiply, multiplyVec, transpose } from '../../maths/mat3.ts';
import { type Random, randomFrom } from '../../maths/random.ts';
import { quaternionFromRotation, rotationFromVector, rotationFromYawPitchRoll } from '../../maths/rotation.ts';
import { add, subtract, unit, type Vec3 } from '../../maths/vec3.ts';
import type { Mounting } from '../../rig/Mounting.ts';
import type { Track } from '../../trajectory/Track.ts';
import type { SystematicErrors } from '../SystematicErrors.ts';
import type { LightPoint, PointView, UvRay } from './PointView.ts';
import type { MountingProblem } from './solveMounting.ts';

/**
 * A calibration flight invented for tests, from mathematics alone: a true path with its wobble, lamps at rest, a camera with
 * a true mounting and lens, and a trajectory whose errors wander all the time as satellite and inertial solutions do
 * (first-order Gauss-Markov), while the estimation takes them as constant over a view of some seconds.
 */
const DEG = Math.PI / 180;
const FOCAL_PX = 1000;
const LENS = idealLens(1280, 1024, FOCAL_PX);
/** Looking out to the right of the body: image right is backwards, image down is down. */
const BODY_FROM_UV: Mat3 = [-1, 0, 0, 0, 0, 1, 0, 1, 0];
const ENU_FROM_NED: Mat3 = [0, 1, 0, 1, 0, 0, 0, 0, -1];
const LEVER: Vec3 = [0.32, 0.18, 0.11];

/** 1 sigma of everything that is drawn. Post-processed with a base nearby: 6 mm, 9 mm upwards; 0.005 degrees, heading 0.008. */
export const CALIBRATION_SIGMA = {
  positionM: [0.006, 0.006, 0.009],
  attitudeRad: [0.005 * DEG, 0.005 * DEG, 0.008 * DEG],
  correlationS: 60,
  boresightRad: 0.3 * DEG,
  leverArmM: 0.01,
  timeOffsetS: 2e-3,
  lensPx: [0.05, 0.05, 0.03, 0.03],
  lampM: 0.005,
  pixelPx: 0.5,
} as const;

export interface CalibrationLeg {
  /** Heading 90 north of the lamps, 270 south of them: the camera looks to the right. */
  readonly headingDeg: 90 | 270;
  readonly standoffM: number;
  readonly aboveM: number;
  readonly speedMps: number;
  /** Amplitude of the deliberate turns to and fro about heading and roll. */
  readonly swingDeg: number;
}

/** There and back, on both sides of the lamps. */
const pair = (leg: Omit<CalibrationLeg, 'headingDeg'>): CalibrationLeg[] => [
  { headingDeg: 90, ...leg },
  { headingDeg: 270, ...leg },
];

/** Opposite legs, near and far, slow and fast, with swings: what lets all seven be told apart. */
export const GOOD_LEGS: readonly CalibrationLeg[] = [
  ...pair({ standoffM: 25, aboveM: 6, speedMps: 9, swingDeg: 5 }),
  ...pair({ standoffM: 80, aboveM: 30, speedMps: 17, swingDeg: 5 }),
  ...pair({ standoffM: 90, aboveM: 25, speedMps: 10, swingDeg: 5 }),
  ...pair({ standoffM: 25, aboveM: 9, speedMps: 16, swingDeg: 5 }),
  ...pair({ standoffM: 100, aboveM: 35, speedMps: 14, swingDeg: 5 }),
  ...pair({ standoffM: 85, aboveM: 20, speedMps: 12, swingDeg: 5 }),
];

export const LAMPS: readonly Vec3[] = [
  [-22, 1.5, 1.2],
  [-7, -2, 5.5],
  [9, 2.5, 0.8],
  [24, -1, 3.7],
];

export interface CalibrationPlan {
  readonly legs: readonly CalibrationLeg[];
  readonly raysPerView: number;
  readonly surveyed: boolean;
  readonly exposureS?: number;
  readonly secondsBetweenLegs?: number;
  /** Draw no trajectory, lens, lamp or pixel errors: what is left is geometry. */
  readonly quiet?: boolean;
  readonly sigmaFactor?: number;
}

export interface CalibrationFlight {
  readonly problem: MountingProblem;
  /** Corrections that lead from the nominal mounting to the true one. */
  readonly truth: Float64Array;
  readonly nominal: Mounting;
}

const enuFromBodyAt = ([roll, pitch, heading]: Vec3): Mat3 =>
  multiply(ENU_FROM_NED, rotationFromYawPitchRoll(heading, pitch, roll));

/** True body position and attitude, `t` seconds from the middle of a leg. */
function truePose(leg: CalibrationLeg, t: number): { position: Vec3; attitude: Vec3 } {
  const way = leg.headingDeg === 90 ? 1 : -1;
  const along = leg.speedMps * t + 1.2 * Math.sin(0.8 * t);
  return {
    position: [way * along, way * (leg.standoffM + 0.4 * Math.sin(0.9 * t + 1)), leg.aboveM + 0.3 * Math.sin(1.1 * t)],
    attitude: [
      leg.swingDeg * DEG * Math.sin(4.1 * t + 0.4),
      // Nose a little down, and the gusts of any flight.
      -2 * DEG + 0.8 * DEG * Math.sin(2.2 * t + 2),
      (leg.headingDeg + leg.swingDeg * Math.sin(3.2 * t + 1) + 0.3 * Math.sin(0.7 * t)) * DEG,
    ],
  };
}

const RATE_HZ = 100;
const FRAME_S = 0.02;

export function flyCalibration(plan: CalibrationPlan, seed: number): CalibrationFlight {
  const random = randomFrom(seed);
  const loud = plan.quiet ? 0 : 1;
  const s = CALIBRATION_SIGMA;
  const f = plan.sigmaFactor ?? 1;
  const exposureS = plan.exposureS ?? 0.002;
  const truth = Float64Array.from(
    { length: 7 },
    (_, i) => random.normal() * (i < 3 ? s.boresightRad : i < 6 ? s.leverArmM : s.timeOffsetS),
  );
  const lens = s.lensPx.map((sigma) => loud * sigma * random.normal());
  const bodyFromUv = multiply(rotationFromVector([truth[0], truth[1], truth[2]]), BODY_FROM_UV);
  const lever = add(LEVER, [truth[3], truth[4], truth[5]]);
  const nominal: Mounting = {
    bodyFromUv: { rotation: BODY_FROM_UV, translation: LEVER },
    leverArmCovarianceM2: diagonal3(s.leverArmM ** 2, s.leverArmM ** 2, s.leverArmM ** 2),
    boresightCovarianceRad2: diagonal3(s.boresightRad ** 2, s.boresightRad ** 2, s.boresightRad ** 2),
    timeOffsetNs: 0,
    timeOffsetSigmaNs: s.timeOffsetS * 1e9,
  };
  const errors: SystematicErrors = {
    positionSigmaEnuM: s.positionM.map((x) => f * x) as unknown as Vec3,
    attitudeSigmaRad: { roll: f * s.attitudeRad[0], pitch: f * s.attitudeRad[1], heading: f * s.attitudeRad[2] },
    positionCorrelationS: s.correlationS,
    attitudeCorrelationS: s.correlationS,
    mounting: nominal,
    lens: LENS,
    lensCovariance: Float64Array.from({ length: 81 }, (_, i) => (i % 10 === 0 ? (s.lensPx[i / 10] ?? 0) ** 2 : 0)),
  };
  const points: LightPoint[] = LAMPS.map((lamp, i) => ({
    id: `lamp ${i + 1}`,
    // A surveyed place has its own error; a place found by rays is a starting point.
    positionEnuM: add(lamp, drawn(random, plan.surveyed ? loud * s.lampM : 0.3)),
    surveyedSigmaM: plan.surveyed ? s.lampM : null,
  }));

  const rows: { t: number; position: Vec3; velocity: Vec3; attitude: Vec3 }[] = [];
  const wander = wandering(random, loud * f);
  const middles = plan.legs.map((_, i) => 20 + i * (plan.secondsBetweenLegs ?? 120));
  const halfS = (leg: CalibrationLeg): number => 45 / leg.speedMps + 3;
  plan.legs.forEach((leg, i) => {
    const half = halfS(leg);
    for (let k = -Math.ceil(half * RATE_HZ); k <= half * RATE_HZ; k++) {
      const t = k / RATE_HZ;
      const at = truePose(leg, t);
      const velocity = subtract(truePose(leg, t + 1e-4).position, truePose(leg, t - 1e-4).position);
      const off = wander(middles[i] + t);
      rows.push({
        t: middles[i] + t,
        position: add(at.position, off.position),
        velocity: [velocity[0] / 2e-4, velocity[1] / 2e-4, velocity[2] / 2e-4],
        attitude: add(at.attitude, off.attitude),
      });
    }
  });
  const track = trackOf(rows);

  const views: PointView[] = [];
  plan.legs.forEach((leg, i) => {
    LAMPS.forEach((lamp, point) => {
      const seen: UvRay[] = [];
      const half = halfS(leg) - 1;
      for (let tries = 0; seen.length < plan.raysPerView && tries < 100 * plan.raysPerView; tries++) {
        const k = Math.floor((2 * random.uniform() - 1) * (half / FRAME_S));
        const t = k * FRAME_S;
        const within = (random.uniform() - 0.5) * exposureS * loud;
        const pose = truePose(leg, t + within);
        const enuFromBody = enuFromBodyAt(pose.attitude);
        const origin = add(pose.position, multiplyVec(enuFromBody, lever));
        const [x, y, z] = multiplyVec(transpose(multiply(enuFromBody, bodyFromUv)), subtract(lamp, origin));
        if (z <= 1) continue;
        const u = (FOCAL_PX + lens[0]) * (x / z) + LENS.cxPx + lens[2] + loud * s.pixelPx * random.normal();
        const v = (FOCAL_PX + lens[1]) * (y / z) + LENS.cyPx + lens[3] + loud * s.pixelPx * random.normal();
        if (!(u > 0 && u < LENS.widthPx && v > 0 && v < LENS.heightPx)) continue;
        const direction = unit([(u - LENS.cxPx) / FOCAL_PX, (v - LENS.cyPx) / FOCAL_PX, 1]);
        seen.push({
          // The stamp is early by the time offset.
          tNs: Math.round((middles[i] + t - truth[6]) * 1e9),
          exposureNs: exposureS * 1e9,
          directionUv: direction,
          // A pixel is narrower off the axis: cos² along the radius, cos across it, their mean here.
          sigmaRad: (s.pixelPx / FOCAL_PX) * direction[2] ** 1.5,
          membership: 1,
        });
      }
      views.push({
        id: `leg ${i + 1}, lamp ${point + 1}`,
        flight: 'calibration',
        point,
        pass: i,
        track,
        tNs: seen.reduce((sum, ray) => sum + ray.tNs, 0) / seen.length,
        errors,
        rays: seen,
      });
    });
  });
  return {
    nominal,
    truth,
    problem: {
      nominal,
      points,
      views,
      prior: [true, true, true, true, true, true, true],
      free: [true, true, true, true, true, true, true],
    },
  };
}

const drawn = (random: Random, sigma: number): Vec3 => [
  sigma * random.normal(),
  sigma * random.normal(),
  sigma * random.normal(),
];

/** Errors that wander: asked for rising times. */
function wandering(random: Random, factor: number): (tS: number) => { position: Vec3; attitude: Vec3 } {
  const sigma = [...CALIBRATION_SIGMA.positionM, ...CALIBRATION_SIGMA.attitudeRad].map((x) => factor * x);
  const now = sigma.map((x) => x * random.normal());
  let last: number | null = null;
  return (tS) => {
    const rho = last === null ? 1 : Math.exp(-(tS - last) / CALIBRATION_SIGMA.correlationS);
    last = tS;
    for (let i = 0; i < 6; i++) now[i] = rho * now[i] + Math.sqrt(1 - rho * rho) * sigma[i] * random.normal();
    return { position: [now[0], now[1], now[2]], attitude: [now[3], now[4], now[5]] };
  };
}

function trackOf(rows: readonly { t: number; position: Vec3; velocity: Vec3; attitude: Vec3 }[]): Track {
  const tNs = Float64Array.from(rows, (row) => Math.round(row.t * 1e9));
  const none = new Float64Array(rows.length);
  return {
    frame: localFrameAt([0, 0, 0]),
    table: {
      tNs,
      latDeg: none,
      lonDeg: none,
      heightM: none,
      rollDeg: none,
      pitchDeg: none,
      headingDeg: none,
      velocityNedMps: null,
      sigma: null,
    },
    count: rows.length,
    tNs,
    positionEnuM: Float64Array.from(rows.flatMap((row) => row.position)),
    velocityEnuMps: Float64Array.from(rows.flatMap((row) => row.velocity)),
    enuFromBody: Float64Array.from(rows.flatMap((row) => quaternionFromRotation(enuFromBodyAt(row.attitude)))),
    velocityRecorded: true,
    assumedSigma: null,
    periodNs: 1e9 / RATE_HZ,
    longestBridgeNs: 5e7,
    accelerationDensity: 0,
    angularDensity: 0,
  };
}
