import type { Llh } from '../../earth/Llh.ts';
import { localFrameAt } from '../../earth/LocalFrame.ts';
import { InputError } from '../../input/InputError.ts';
import { DEG_PER_RAD, RAD_PER_DEG, wrapDeg360 } from '../../maths/angle.ts';
import { hermite } from '../../maths/cubicHermite.ts';
import {
  quaternionFromRotation,
  rotationFromQuaternion,
  rotationFromYawPitchRoll,
  slerp,
  yawPitchRollFromRotation,
} from '../../maths/rotation.ts';
import type { TrajectoryTable } from '../TrajectoryTable.ts';
import type { RollPitchHeading } from './attitudeColumns.ts';
import { TrajectoryBuilder } from './trajectoryBuilder.ts';

/** Positions without attitude, in order of time. */
export interface PositionStream {
  readonly file: string;
  readonly tNs: readonly number[];
  readonly llh: readonly Llh[];
  /** North, east, down, metres, of each. */
  readonly sigmaM: readonly (readonly [number, number, number])[];
  readonly fix: readonly string[] | null;
}

/** Attitudes without position, in order of time. */
export interface AttitudeStream {
  readonly file: string;
  readonly tNs: readonly number[];
  readonly rollPitchHeading: readonly RollPitchHeading[];
  readonly sigmaDeg: readonly [number, number, number];
}

/** Positions or attitudes farther apart than this are not joined over: 1 s, or two and a half times the usual distance. */
function longestStepNs(tNs: readonly number[]): number {
  const steps = tNs
    .slice(1)
    .map((t, i) => t - tNs[i])
    .sort((a, b) => a - b);
  return Math.max(1e9, 2.5 * (steps[steps.length >> 1] ?? 0));
}

/**
 * Positions and attitudes of two sources as one trajectory, at the times of the denser of the two. Positions between
 * rows follow the cubic through their neighbours, attitudes turn at constant rate; what the aircraft does between two
 * positions is not known better than that, so that sparse positions are the weaker half: their standard
 * deviations grow by an eighth of the acceleration of 1 m/s2 times the square of the step.
 * Times of one source outside the other, or in its gaps, are left out and counted.
 */
export function joinPoses(
  positions: PositionStream,
  attitudes: AttitudeStream,
  notes: readonly string[],
): TrajectoryTable {
  needTwo(positions.file, positions.tNs, 'positions');
  needTwo(attitudes.file, attitudes.tNs, 'attitudes');
  const frame = localFrameAt(positions.llh[0]);
  const n = positions.tNs.length;
  const enuM = new Float64Array(3 * n);
  positions.llh.forEach((llh, i) => {
    enuM.set(frame.enuFromLlh(llh), 3 * i);
  });
  const speedMps = speeds(positions.tNs, enuM);
  const positionStepNs = longestStepNs(positions.tNs);
  const attitudeStepNs = longestStepNs(attitudes.tNs);
  const base = attitudes.tNs.length >= n ? attitudes.tNs : positions.tNs;
  const builder = new TrajectoryBuilder();
  let p = 0;
  let a = 0;
  let alone = 0;
  const turns = attitudes.rollPitchHeading.map(quaternionOf);
  for (const tNs of base) {
    while (p < n - 2 && positions.tNs[p + 1] <= tNs) p++;
    while (a < turns.length - 2 && attitudes.tNs[a + 1] <= tNs) a++;
    const pStepNs = positions.tNs[p + 1] - positions.tNs[p];
    const aStepNs = attitudes.tNs[a + 1] - attitudes.tNs[a];
    const pAt = (tNs - positions.tNs[p]) / pStepNs;
    const aAt = (tNs - attitudes.tNs[a]) / aStepNs;
    const inside = (at: number, step: number, most: number): boolean =>
      at === 0 || at === 1 || (at > 0 && at < 1 && step <= most);
    if (!inside(pAt, pStepNs, positionStepNs) || !inside(aAt, aStepNs, attitudeStepNs)) {
      alone++;
      continue;
    }
    const lengthS = pStepNs * 1e-9;
    const { position } = hermite(enuM, speedMps, p, p + 1, lengthS, pAt);
    const { yawRad, pitchRad, rollRad } = yawPitchRollFromRotation(
      rotationFromQuaternion(slerp(turns[a], turns[a + 1], aAt)),
    );
    const strayM = (pAt * (1 - pAt) * lengthS ** 2) / 2;
    const row = pAt < 0.5 ? p : p + 1;
    builder.add(
      {
        tNs,
        llh: frame.llhFromEnu(position),
        rollPitchHeading: [rollRad * DEG_PER_RAD, pitchRad * DEG_PER_RAD, wrapDeg360(yawRad * DEG_PER_RAD)],
        velocityNedMps: null,
        sigma: [...positions.sigmaM[row].map((s) => Math.hypot(s, strayM)), ...attitudes.sigmaDeg],
        fix: positions.fix?.[row] ?? null,
      },
      positions.file,
      0,
    );
  }
  const said = [
    ...notes,
    `Positions (${n}) and attitudes (${turns.length}) of two sources were joined at ${builder.count} times.`,
  ];
  if (alone > 0) said.push(`${alone} times lie outside the other source, or in its gaps, and were left out.`);
  return builder.finish(positions.file, said);
}

/** Level flight along the course; rows at which the aircraft is slower than 1 m/s keep the heading of the row before (the first, that of the first which is not). */
export function poseAlongCourse(
  positions: PositionStream,
  sigma: { readonly rollPitchSigmaDeg: number; readonly headingSigmaDeg: number },
  notes: readonly string[],
): TrajectoryTable {
  needTwo(positions.file, positions.tNs, 'positions');
  const frame = localFrameAt(positions.llh[0]);
  const enuM = new Float64Array(3 * positions.tNs.length);
  positions.llh.forEach((llh, i) => {
    enuM.set(frame.enuFromLlh(llh), 3 * i);
  });
  const speedMps = speeds(positions.tNs, enuM);
  const builder = new TrajectoryBuilder();
  const moves = (i: number): boolean => Math.hypot(speedMps[3 * i], speedMps[3 * i + 1]) > 1;
  const course = (i: number): number => wrapDeg360(Math.atan2(speedMps[3 * i], speedMps[3 * i + 1]) * DEG_PER_RAD);
  const first = positions.tNs.findIndex((_, i) => moves(i));
  let headingDeg = first < 0 ? 0 : course(first);
  positions.tNs.forEach((tNs, i) => {
    if (moves(i)) headingDeg = course(i);
    builder.add(
      {
        tNs,
        llh: positions.llh[i],
        rollPitchHeading: [0, 0, headingDeg],
        velocityNedMps: null,
        sigma: [...positions.sigmaM[i], sigma.rollPitchSigmaDeg, sigma.rollPitchSigmaDeg, sigma.headingSigmaDeg],
        fix: positions.fix?.[i] ?? null,
      },
      positions.file,
      0,
    );
  });
  return builder.finish(positions.file, [
    ...notes,
    `No attitude was recorded: level flight along the course is assumed, good to ${sigma.headingSigmaDeg}° of heading. That serves maps and a first look at coverage; places of discharges need an attitude.`,
  ]);
}

function needTwo(file: string, tNs: readonly number[], what: string): void {
  if (tNs.length >= 2) return;
  throw new InputError({
    file,
    found: `${tNs.length} ${what}`,
    expected: `at least two ${what}`,
    todo: 'Check the file and the mapping.',
  });
}

const quaternionOf = ([roll, pitch, heading]: RollPitchHeading) =>
  quaternionFromRotation(rotationFromYawPitchRoll(heading * RAD_PER_DEG, pitch * RAD_PER_DEG, roll * RAD_PER_DEG));

/** By the parabola through three rows; one-sided at the ends. */
function speeds(tNs: readonly number[], enuM: Float64Array): Float64Array {
  const out = new Float64Array(enuM.length);
  const n = tNs.length;
  for (let i = 0; i < n; i++) {
    const t0 = i > 0 ? (tNs[i] - tNs[i - 1]) * 1e-9 : 0;
    const t1 = i < n - 1 ? (tNs[i + 1] - tNs[i]) * 1e-9 : 0;
    for (let k = 0; k < 3; k++) {
      const back = t0 > 0 ? (enuM[3 * i + k] - enuM[3 * i - 3 + k]) / t0 : 0;
      const forth = t1 > 0 ? (enuM[3 * i + 3 + k] - enuM[3 * i + k]) / t1 : 0;
      out[3 * i + k] = t0 === 0 ? forth : t1 === 0 ? back : (back * t1 + forth * t0) / (t0 + t1);
    }
  }
  return out;
}
