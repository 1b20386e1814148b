import { expect, test } from 'vitest';
import { localFrameAt } from '../earth/LocalFrame.ts';
import { DEG_PER_RAD } from '../maths/angle.ts';
import { multiply, multiplyVec, trace, transpose } from '../maths/mat3.ts';
import { randomFrom } from '../maths/random.ts';
import {
  rotationFromVector,
  rotationFromYawPitchRoll,
  vectorFromRotation,
  yawPitchRollFromRotation,
} from '../maths/rotation.ts';
import { distance, norm, subtract, type Vec3 } from '../maths/vec3.ts';
import type { TrajectoryTable } from '../recording/TrajectoryTable.ts';
import { buildTrack } from './buildTrack.ts';
import { interpolatePose, interpolatePoses, REFUSALS } from './interpolatePose.ts';

const frame = localFrameAt([13.7, 47.3, 600]);
const deg = Math.PI / 180;

interface Row {
  tS: number;
  enuM: Vec3;
  velocityEnuMps?: Vec3;
  rollDeg?: number;
  pitchDeg?: number;
  headingDeg?: number;
}

function tableOf(rows: Row[], withSigma = false): TrajectoryTable {
  const column = (of: (row: Row) => number) => Float64Array.from(rows, of);
  const llh = rows.map((r) => frame.llhFromEnu(r.enuM));
  const ned = rows.map((r, i) => multiplyVec(transpose(frame.enuFromNedAt(llh[i])), r.velocityEnuMps ?? [0, 0, 0]));
  return {
    tNs: column((r) => Math.round(r.tS * 1e9)),
    lonDeg: Float64Array.from(llh, (x) => x[0]),
    latDeg: Float64Array.from(llh, (x) => x[1]),
    heightM: Float64Array.from(llh, (x) => x[2]),
    rollDeg: column((r) => r.rollDeg ?? 0),
    pitchDeg: column((r) => r.pitchDeg ?? 0),
    headingDeg: column((r) => r.headingDeg ?? 0),
    velocityNedMps: rows[0].velocityEnuMps
      ? {
          north: Float64Array.from(ned, (x) => x[0]),
          east: Float64Array.from(ned, (x) => x[1]),
          down: Float64Array.from(ned, (x) => x[2]),
        }
      : null,
    sigma: withSigma
      ? {
          northM: column(() => 0.02),
          eastM: column(() => 0.03),
          downM: column(() => 0.05),
          rollDeg: column(() => 0.01),
          pitchDeg: column(() => 0.02),
          headingDeg: column(() => 0.06),
        }
      : null,
  };
}

const poseAt = (track: ReturnType<typeof buildTrack>, tNs: number) => {
  const outcome = interpolatePose(track, tNs);
  if (outcome.kind !== 'pose') throw new Error(outcome.because);
  return outcome;
};

test('a motion with constant change of acceleration is met exactly between rows half a second apart', () => {
  const at = (t: number): Vec3 => [
    3 + 12 * t - 0.7 * t * t + 0.21 * t ** 3,
    -40 + 5 * t + 0.4 * t * t,
    80 - t + 0.1 * t ** 3,
  ];
  const speed = (t: number): Vec3 => [12 - 1.4 * t + 0.63 * t * t, 5 + 0.8 * t, -1 + 0.3 * t * t];
  const rows = Array.from({ length: 9 }, (_, i) => ({ tS: i / 2, enuM: at(i / 2), velocityEnuMps: speed(i / 2) }));
  const track = buildTrack(tableOf(rows), frame);
  for (const t of [0, 0.13, 1.777, 2.5, 3.99, 4]) {
    const pose = poseAt(track, t * 1e9);
    // A cubic is its own Hermite interpolant; 1e-8 m is the rounding of latitude and longitude.
    expect(distance(pose.enuFromBody.translation, at(t))).toBeLessThan(2e-8);
    // Velocities are blended: half a second squared times an eighth of the change of acceleration, (1.26, 0, 0.6) m/s3.
    expect(distance(pose.velocityEnuMps, speed(t))).toBeLessThan(0.0437);
  }
});

test('without recorded velocities a circle of 60 m at 15 m/s is met within a hundredth of a millimetre at 20 Hz', () => {
  const at = (t: number): Vec3 => [60 * Math.cos(t / 4), 60 * Math.sin(t / 4), 90];
  const rows = Array.from({ length: 200 }, (_, i) => ({ tS: i / 20, enuM: at(i / 20) }));
  const track = buildTrack(tableOf(rows), frame);
  let worst = 0;
  for (let t = 0.11; t < 9.8; t += 0.0137)
    worst = Math.max(worst, distance(poseAt(track, t * 1e9).enuFromBody.translation, at(t)));
  // Slopes from parabolas err by h^2 x'''/6 = 0.94 m/s3 * 0.05^2 / 6 = 4e-4 m/s, over an eighth of 0.05 s: 5e-6 m.
  expect(worst).toBeLessThan(1e-5);
});

test('attitude half way across north is SciPy Slerp, seen from the place itself', () => {
  const rows = [
    { tS: 0, enuM: [0, 0, 0] as Vec3, rollDeg: -1, pitchDeg: 2, headingDeg: 350 },
    { tS: 1, enuM: [0, 0, 0] as Vec3, rollDeg: 4, pitchDeg: -3, headingDeg: 10 },
    { tS: 2, enuM: [0, 0, 0] as Vec3, rollDeg: 4, pitchDeg: -3, headingDeg: 10 },
  ];
  const track = buildTrack(tableOf(rows), frame);
  const nedFromBody = multiply(
    transpose(frame.enuFromNedAt(frame.originLlh)),
    poseAt(track, 0.5e9).enuFromBody.rotation,
  );
  const { yawRad, pitchRad, rollRad } = yawPitchRollFromRotation(nedFromBody);
  // SciPy 1.10, spatial.transform.Slerp at 0.5.
  [0.053069, -0.28135, 1.71839].forEach((x, i) =>
    expect([yawRad, pitchRad, rollRad][i] * DEG_PER_RAD).toBeCloseTo(x, 5),
  );
  // The whole turn is 21.241970 degrees (SciPy), made in one second.
  expect(norm(poseAt(track, 0.5e9).angularRateEnuRadps) * DEG_PER_RAD).toBeCloseTo(21.24197, 5);
});

test('20 km from the origin a level aircraft is level where it is, not where the campaign began', () => {
  const llh = frame.llhFromEnu([20000, 0, 0]);
  const table = tableOf([0, 1, 2].map((tS) => ({ tS, enuM: [20000, 0, 0] as Vec3, headingDeg: 90 })));
  const down = multiplyVec(poseAt(buildTrack(table, frame), 1e9).enuFromBody.rotation, [0, 0, 1]);
  expect(distance(down, multiplyVec(frame.enuFromNedAt(llh), [0, 0, 1]))).toBeLessThan(1e-12);
  // 20 km over 6390 km is 0.179 degrees: a flat earth would have said 0.
  expect(Math.acos(-down[2]) * DEG_PER_RAD).toBeCloseTo(0.1793, 3);
});

test('angular rate is the turn of the body seen in ENU axes', () => {
  const rows = Array.from({ length: 5 }, (_, i) => ({
    tS: i / 10,
    enuM: [0, 0, 0] as Vec3,
    headingDeg: (355 + 3 * i) % 360,
  }));
  // 30 degrees a second clockwise from above is a vector pointing down.
  const rate = poseAt(buildTrack(tableOf(rows), frame), 0.15e9).angularRateEnuRadps;
  expect(distance(rate, [0, 0, -30 * deg])).toBeLessThan(1e-9);
});

test('outside the track, in a gap and at no time at all there is no pose, and the reason is said', () => {
  const times = [0, 0.2, 0.4, 5, 5.2, 5.4];
  const track = buildTrack(tableOf(times.map((tS) => ({ tS, enuM: [tS, 2 * tS, 3] as Vec3 }))), frame);
  expect(interpolatePose(track, -1)).toEqual({ kind: 'refused', because: 'before the track' });
  expect(interpolatePose(track, 5.4e9 + 1)).toEqual({ kind: 'refused', because: 'after the track' });
  expect(interpolatePose(track, 2e9)).toEqual({ kind: 'refused', because: 'in a gap' });
  expect(interpolatePose(track, Number.NaN).kind).toBe('refused');
  expect(interpolatePose(track, 0.4e9).kind).toBe('pose');
  expect(interpolatePose(track, 5e9).kind).toBe('pose');
  const many = interpolatePoses(track, [0.1e9, 2e9, 6e9]);
  expect([...many.refusal].map((k) => (k === 0 ? 'pose' : REFUSALS[k - 1]))).toEqual([
    'pose',
    'in a gap',
    'after the track',
  ]);
  expect([...many.positionEnuM.subarray(3, 9)].every(Number.isNaN)).toBe(true);
});

test('many poses at once are the single ones, to the bit', () => {
  const random = randomFrom(5);
  const rows = Array.from({ length: 40 }, (_, i) => ({
    tS: i / 5,
    enuM: [i * 3, random.normal(), 50 + random.normal()] as Vec3,
    rollDeg: 5 * random.normal(),
    pitchDeg: 5 * random.normal(),
    headingDeg: 360 * random.uniform(),
  }));
  const track = buildTrack(tableOf(rows), frame);
  const times = Array.from({ length: 50 }, () => Math.round(random.uniform() * 7.8e9));
  const many = interpolatePoses(track, times);
  times.forEach((tNs, i) => {
    const one = poseAt(track, tNs);
    expect([...many.positionEnuM.subarray(3 * i, 3 * i + 3)]).toEqual(one.enuFromBody.translation);
    expect([...many.enuFromBody.subarray(9 * i, 9 * i + 9)]).toEqual(one.enuFromBody.rotation);
    expect([...many.angularRateEnuRadps.subarray(3 * i, 3 * i + 3)]).toEqual(one.angularRateEnuRadps);
  });
});

test('the attitude covariance is the scatter of attitudes with wrong roll, pitch and heading', () => {
  const [rollDeg, pitchDeg, headingDeg] = [12, -25, 205];
  const rows = [0, 1, 2].map((tS) => ({ tS, enuM: [0, 0, 0] as Vec3, rollDeg, pitchDeg, headingDeg }));
  const pose = poseAt(buildTrack(tableOf(rows, true), frame), 1e9);
  const random = randomFrom(42);
  const enuFromNed = frame.enuFromNedAt(frame.originLlh);
  const sum = new Float64Array(9);
  const n = 20000;
  for (let i = 0; i < n; i++) {
    const wrong = rotationFromYawPitchRoll(
      (headingDeg + 0.06 * random.normal()) * deg,
      (pitchDeg + 0.02 * random.normal()) * deg,
      (rollDeg + 0.01 * random.normal()) * deg,
    );
    const d = vectorFromRotation(multiply(multiply(enuFromNed, wrong), transpose(pose.enuFromBody.rotation)));
    for (let k = 0; k < 9; k++) sum[k] += (d[Math.floor(k / 3)] * d[k % 3]) / n;
  }
  const largest = (0.06 * deg) ** 2;
  // A variance from 20000 draws has a relative deviation of sqrt(2/20000) = 1 %; 4 sigma.
  pose.attitudeCovarianceEnuRad2.forEach((x, k) => expect(Math.abs(x - sum[k]) / largest).toBeLessThan(0.04));
  expect(pose.positionCovarianceEnuM2[0]).toBeCloseTo(0.03 ** 2, 10);
  expect(pose.positionCovarianceEnuM2[4]).toBeCloseTo(0.02 ** 2, 10);
  expect(pose.positionCovarianceEnuM2[8]).toBeCloseTo(0.05 ** 2, 10);
});

test('over bridged gaps the error stays within the covariance that grew with the gap, seed 11', () => {
  // A body driven by white acceleration of 0.6 m2/s3 an axis at 100 Hz, velocities known; 0.8 s are cut out at many places.
  const random = randomFrom(11);
  const step = 0.01;
  const n = 60000;
  const truth: Vec3[] = [];
  const rows: Row[] = [];
  let p: Vec3 = [0, 0, 60];
  let v: Vec3 = [8, 3, 0];
  for (let i = 0; i < n; i++) {
    truth.push(p);
    if (i % 200 < 120) rows.push({ tS: i * step, enuM: p, velocityEnuMps: v });
    const a = [0, 1, 2].map(() => Math.sqrt(0.6 / step) * random.normal()) as unknown as Vec3;
    p = [0, 1, 2].map((k) => p[k] + v[k] * step + (a[k] * step * step) / 2) as unknown as Vec3;
    v = [0, 1, 2].map((k) => v[k] + a[k] * step) as unknown as Vec3;
  }
  const track = buildTrack(tableOf(rows), frame, {
    assumedSigma: { northM: 0, eastM: 0, downM: 0, rollDeg: 0, pitchDeg: 0, headingDeg: 0 },
  });
  let squares = 0;
  let cases = 0;
  for (let i = 159; i < n - 200; i += 200) {
    const pose = poseAt(track, Math.round(i * step * 1e9));
    const variance = trace(pose.positionCovarianceEnuM2) / 3;
    const error = subtract(pose.enuFromBody.translation, truth[i]);
    squares += (error[0] ** 2 + error[1] ** 2 + error[2] ** 2) / (3 * variance);
    cases++;
  }
  // Mean of 3 x 299 unit variances: deviation sqrt(2/897) = 0.047; the density itself is the worst of three axes (a few
  // per cent high). Four deviations either way.
  expect(squares / cases).toBeGreaterThan(0.75);
  expect(squares / cases).toBeLessThan(1.2);
});

test('a rotation vector between two attitudes turns the first into the second', () => {
  const a = rotationFromYawPitchRoll(1, 0.2, -0.4);
  const v: Vec3 = [0.3, -0.5, 0.7];
  const rows = [
    { tS: 0, enuM: [0, 0, 0] as Vec3 },
    { tS: 1, enuM: [0, 0, 0] as Vec3 },
    { tS: 2, enuM: [0, 0, 0] as Vec3 },
  ].map((row, i) => {
    const nedFromEnu = transpose(frame.enuFromNedAt(frame.originLlh));
    const { yawRad, pitchRad, rollRad } = yawPitchRollFromRotation(
      multiply(nedFromEnu, multiply(rotationFromVector([v[0] * i, v[1] * i, v[2] * i]), a)),
    );
    return { ...row, headingDeg: yawRad / deg, pitchDeg: pitchRad / deg, rollDeg: rollRad / deg };
  });
  expect(distance(poseAt(buildTrack(tableOf(rows), frame), 0.7e9).angularRateEnuRadps, v)).toBeLessThan(1e-9);
});

test('a trajectory of two rows, with times that do not rise, or with values that are no numbers is refused by row', () => {
  const rows = [0, 1, 2].map((tS) => ({ tS, enuM: [tS, 0, 0] as Vec3 }));
  expect(() => buildTrack(tableOf(rows.slice(0, 2)), frame)).toThrow(
    'trajectory: found 2 rows, expected at least 3 rows',
  );
  const late = tableOf(rows);
  late.tNs[2] = 1e9;
  expect(() => buildTrack(late, frame, { file: 'trajectory.csv' })).toThrow(
    'trajectory.csv, row 4, t_ns: found 1000000000 after 1000000000, expected strictly rising times',
  );
  const hollow = tableOf(rows);
  hollow.pitchDeg[1] = Number.NaN;
  expect(() => buildTrack(hollow, frame)).toThrow('row 3, pitch_deg: found NaN, expected a number');
});
