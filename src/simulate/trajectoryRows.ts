import { CHANCE, flightChance } from './chance.ts';
import { bodyPoseAt } from './FlightPath.ts';
import { gaussMarkov } from './gaussMarkov.ts';
import type { World } from './World.ts';

const RATE_HZ = 200;
const DEG = 180 / Math.PI;

/**
 * The errors of a survey-grade satellite and inertial solution: a wandering part (first-order Gauss-Markov) and a white
 * one. The stated standard deviations are exactly those of the sum.
 */
const ERRORS = {
  horizontal: { wander: 0.025, tauS: 90, white: 0.003 },
  vertical: { wander: 0.04, tauS: 90, white: 0.003 },
  tilt: { wander: 0.0098, tauS: 60, white: 0.002 },
  heading: { wander: 0.0298, tauS: 120, white: 0.0035 },
  velocity: { white: 0.01 },
} as const;

export const TRAJECTORY_COLUMNS = [
  't_ns',
  'lat_deg',
  'lon_deg',
  'height_m',
  'roll_deg',
  'pitch_deg',
  'heading_deg',
  'v_north_mps',
  'v_east_mps',
  'v_down_mps',
  'sd_north_m',
  'sd_east_m',
  'sd_down_m',
  'sd_roll_deg',
  'sd_pitch_deg',
  'sd_heading_deg',
] as const;

/** The trajectory as its processing software would deliver it: rows of text cells in the order of TRAJECTORY_COLUMNS. */
export function trajectoryRows(world: World): string[][] {
  const { flight, frame } = world;
  const endS = flight.uvTimes.tNs.at(-1)! * 1e-9 + 0.6;
  const count = Math.floor(endS * RATE_HZ) + 1;
  const random = flightChance(world, CHANCE.trajectory);
  const error = (kind: { wander: number; tauS: number; white: number }) => {
    const slow = gaussMarkov(random, count, 1 / RATE_HZ, kind.wander, kind.tauS);
    return slow.map((x) => x + kind.white * random.normal());
  };
  const [north, east, down] = [error(ERRORS.horizontal), error(ERRORS.horizontal), error(ERRORS.vertical)];
  const [roll, pitch, heading] = [error(ERRORS.tilt), error(ERRORS.tilt), error(ERRORS.heading)];
  const sd = (kind: { wander: number; white: number }, digits: number) =>
    Math.hypot(kind.wander, kind.white).toFixed(digits);
  const sds = [
    sd(ERRORS.horizontal, 4),
    sd(ERRORS.horizontal, 4),
    sd(ERRORS.vertical, 4),
    sd(ERRORS.tilt, 4),
    sd(ERRORS.tilt, 4),
    sd(ERRORS.heading, 4),
  ];
  const noisy = (v: number) => (v + ERRORS.velocity.white * random.normal()).toFixed(4);
  return Array.from({ length: count }, (_, i) => {
    const pose = bodyPoseAt(flight.path, i / RATE_HZ);
    const p = pose.positionEnuM;
    const [lon, lat, height] = frame.llhFromEnu([p[0] + east[i]!, p[1] + north[i]!, p[2] - down[i]!]);
    const headingDeg = ((((pose.yawRad * DEG + heading[i]!) % 360) + 360) % 360).toFixed(5);
    return [
      String(Math.round((i / RATE_HZ) * 1e9)),
      lat.toFixed(10),
      lon.toFixed(10),
      height.toFixed(4),
      (pose.rollRad * DEG + roll[i]!).toFixed(5),
      (pose.pitchRad * DEG + pitch[i]!).toFixed(5),
      headingDeg === '360.00000' ? '0.00000' : headingDeg,
      noisy(pose.velocityEnuMps[1]),
      noisy(pose.velocityEnuMps[0]),
      noisy(-pose.velocityEnuMps[2]),
      ...sds,
    ];
  });
}
