import { RAD_PER_DEG } from '../maths/angle.ts';
import { hermite } from '../maths/cubicHermite.ts';
import { addMat, congruence, diagonal3, type Mat3, multiply, scaleMat } from '../maths/mat3.ts';
import type { RigidTransform } from '../maths/rigidTransform.ts';
import { rotationFromQuaternion, rotationZ, slerp } from '../maths/rotation.ts';
import { scale, type Vec3 } from '../maths/vec3.ts';
import { bridgeFactor } from './bridge.ts';
import { quaternionAt, vectorBetween } from './quaternionRow.ts';
import type { RowSigma, Track } from './Track.ts';

export interface Pose {
  readonly tNs: number;
  readonly enuFromBody: RigidTransform;
  /**
   * The recorded velocities, blended linearly (the slope of the cubic would carry the row noise of the positions over the
   * short time between rows); the slope of the cubic where none were recorded.
   */
  readonly velocityEnuMps: Vec3;
  /** Rotation vector per second, ENU axes. */
  readonly angularRateEnuRadps: Vec3;
  /** Of the body's origin. */
  readonly positionCovarianceEnuM2: Mat3;
  /** Of a small rotation vector d in ENU axes, applied on the left: the true rotation is exp([d]x) · enuFromBody. */
  readonly attitudeCovarianceEnuRad2: Mat3;
}

export const REFUSALS = ['before the track', 'after the track', 'in a gap'] as const;
export type Refusal = (typeof REFUSALS)[number];

export type PoseOutcome = ({ readonly kind: 'pose' } & Pose) | { readonly kind: 'refused'; readonly because: Refusal };

/**
 * The body's pose at a time of the trajectory's clock.
 * Position by the cubic Hermite through the neighbouring rows and their velocities, attitude by slerp (constant rate
 * between rows). The covariances are those of the rows, blended, plus what the truth may have strayed between two
 * rows, which grows with the third power of their distance (see bridgeFactor). Nothing is extrapolated.
 */
export function interpolatePose(track: Track, tNs: number): PoseOutcome {
  const found = locate(track, tNs);
  if (typeof found === 'string') return { kind: 'refused', because: found };
  const { row, at, lengthS } = found;
  const { position, velocity } = motionAt(track, row, at, lengthS);
  const a = quaternionAt(track.enuFromBody, row);
  const b = quaternionAt(track.enuFromBody, row + 1);
  const strayM2 = track.accelerationDensity * bridgeFactor(at, track.velocityRecorded) * lengthS ** 3;
  const strayRad2 = track.angularDensity * bridgeFactor(at, false) * lengthS ** 3;
  const before = rowCovariances(track, row);
  const after = rowCovariances(track, row + 1);
  return {
    kind: 'pose',
    tNs,
    enuFromBody: { rotation: rotationFromQuaternion(slerp(a, b, at)), translation: position },
    velocityEnuMps: velocity,
    angularRateEnuRadps: scale(vectorBetween(a, b), 1 / lengthS),
    positionCovarianceEnuM2: blend(before.positionM2, after.positionM2, at, strayM2),
    attitudeCovarianceEnuRad2: blend(before.attitudeRad2, after.attitudeRad2, at, strayRad2),
  };
}

/** Many poses at once, without covariances, in flat arrays. Where `refusal` is not 0 the numbers of that pose are NaN. */
export interface PoseArrays {
  readonly count: number;
  /** 0 = a pose; k = refused because of REFUSALS[k - 1]. */
  readonly refusal: Uint8Array;
  readonly positionEnuM: Float64Array;
  /** Row by row, 9 numbers a pose. */
  readonly enuFromBody: Float64Array;
  readonly velocityEnuMps: Float64Array;
  readonly angularRateEnuRadps: Float64Array;
}

/** interpolatePose for many times, in any order; the same numbers to the bit. */
export function interpolatePoses(track: Track, tNs: ArrayLike<number>): PoseArrays {
  const count = tNs.length;
  const refusal = new Uint8Array(count);
  const positionEnuM = new Float64Array(3 * count).fill(Number.NaN);
  const enuFromBody = new Float64Array(9 * count).fill(Number.NaN);
  const velocityEnuMps = new Float64Array(3 * count).fill(Number.NaN);
  const angularRateEnuRadps = new Float64Array(3 * count).fill(Number.NaN);
  for (let i = 0; i < count; i++) {
    const found = locate(track, tNs[i]);
    if (typeof found === 'string') {
      refusal[i] = REFUSALS.indexOf(found) + 1;
      continue;
    }
    const { row, at, lengthS } = found;
    const { position, velocity } = motionAt(track, row, at, lengthS);
    const a = quaternionAt(track.enuFromBody, row);
    const b = quaternionAt(track.enuFromBody, row + 1);
    positionEnuM.set(position, 3 * i);
    velocityEnuMps.set(velocity, 3 * i);
    enuFromBody.set(rotationFromQuaternion(slerp(a, b, at)), 9 * i);
    angularRateEnuRadps.set(scale(vectorBetween(a, b), 1 / lengthS), 3 * i);
  }
  return { count, refusal, positionEnuM, enuFromBody, velocityEnuMps, angularRateEnuRadps };
}

/** The two rows around a time. A row's own time is answered even beside a gap. */
function locate(track: Track, tNs: number): { row: number; at: number; lengthS: number } | Refusal {
  const { tNs: times, count } = track;
  // Written so that NaN is refused too.
  if (!(tNs >= times[0])) return 'before the track';
  if (!(tNs <= times[count - 1])) return 'after the track';
  let low = 0;
  let high = count - 1;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (times[middle] <= tNs) low = middle;
    else high = middle;
  }
  const lengthNs = times[low + 1] - times[low];
  const at = (tNs - times[low]) / lengthNs;
  if (lengthNs > track.longestBridgeNs && at !== 0 && at !== 1) return 'in a gap';
  return { row: low, at, lengthS: lengthNs * 1e-9 };
}

function motionAt(track: Track, row: number, at: number, lengthS: number): { position: Vec3; velocity: Vec3 } {
  const v = track.velocityEnuMps;
  const bridged = hermite(track.positionEnuM, v, row, row + 1, lengthS, at);
  if (!track.velocityRecorded) return bridged;
  const k = 3 * row;
  const speed = (i: number) => (1 - at) * v[i] + at * v[i + 3];
  return { position: bridged.position, velocity: [speed(k), speed(k + 1), speed(k + 2)] };
}

function sigmaOfRow(track: Track, i: number): RowSigma {
  const s = track.table.sigma;
  if (!s) return track.assumedSigma as RowSigma;
  return {
    northM: s.northM[i],
    eastM: s.eastM[i],
    downM: s.downM[i],
    rollDeg: s.rollDeg[i],
    pitchDeg: s.pitchDeg[i],
    headingDeg: s.headingDeg[i],
  };
}

/** From standard deviations along north, east, down and about the three Euler axes to covariances in ENU axes. */
function rowCovariances(track: Track, i: number): { positionM2: Mat3; attitudeRad2: Mat3 } {
  const { table } = track;
  const s = sigmaOfRow(track, i);
  const enuFromNed = track.frame.enuFromNedAt([table.lonDeg[i], table.latDeg[i], table.heightM[i]]);
  const pitch = table.pitchDeg[i] * RAD_PER_DEG;
  // Heading turns about down, pitch about the level axis to the right, roll about the nose: the columns of nedFromEuler,
  // first with the nose due north, then turned by the heading.
  const levelFromEuler: Mat3 = [Math.cos(pitch), 0, 0, 0, 1, 0, -Math.sin(pitch), 0, 1];
  const nedFromEuler = multiply(rotationZ(table.headingDeg[i] * RAD_PER_DEG), levelFromEuler);
  const eulerRad2 = diagonal3(
    (s.rollDeg * RAD_PER_DEG) ** 2,
    (s.pitchDeg * RAD_PER_DEG) ** 2,
    (s.headingDeg * RAD_PER_DEG) ** 2,
  );
  return {
    positionM2: congruence(enuFromNed, diagonal3(s.northM ** 2, s.eastM ** 2, s.downM ** 2)),
    attitudeRad2: congruence(multiply(enuFromNed, nedFromEuler), eulerRad2),
  };
}

/** Errors of neighbouring rows are nearly the same error, so their covariance is blended and does not shrink half way. */
function blend(before: Mat3, after: Mat3, at: number, strayVariance: number): Mat3 {
  const rows = addMat(scaleMat(before, 1 - at), scaleMat(after, at));
  return addMat(rows, diagonal3(strayVariance, strayVariance, strayVariance));
}
