import type { Mat3 } from '../maths/mat3.ts';
import { multiply, transpose } from '../maths/mat3.ts';
import { vectorFromRotation } from '../maths/rotation.ts';
import { scale, subtract, type Vec3 } from '../maths/vec3.ts';
import type { FramePoses } from '../sighting/EventRays.ts';

/** How the uv camera moved around one frame. */
export interface FrameMotion {
  /** Middle of the exposure. */
  readonly tNs: number;
  readonly enuFromUv: Mat3;
  readonly originEnuM: Vec3;
  readonly velocityEnuMps: Vec3;
  /** Angular velocity of the camera against the earth, in east-north-up axes. */
  readonly turnEnuRadps: Vec3;
  readonly exposureS: number;
}

/** The poses of a flight made quick to ask for one frame. Poses must not change once asked for. */
export function motionOfFrame(poses: FramePoses): (frame: number) => FrameMotion {
  let known = knownMotions.get(poses);
  if (!known) {
    known = { rows: new Map(), motions: [] };
    for (let i = 0; i < poses.count; i++) known.rows.set(poses.frame[i], i);
    knownMotions.set(poses, known);
  }
  const { rows, motions } = known;
  return (frame) => {
    const row = rows.get(frame);
    if (row === undefined) throw new RangeError(`frame ${frame} has rays but no pose`);
    motions[row] ??= frameMotion(poses, row);
    return motions[row];
  };
}

// One flight has many sightings, which share frames.
const knownMotions = new WeakMap<FramePoses, { rows: Map<number, number>; motions: FrameMotion[] }>();

const originOf = (poses: FramePoses, row: number): Vec3 => [
  poses.originEnuM[3 * row],
  poses.originEnuM[3 * row + 1],
  poses.originEnuM[3 * row + 2],
];

const enuFromUvOf = (poses: FramePoses, row: number): Mat3 =>
  transpose(Array.from(poses.uvFromEnu.subarray(9 * row, 9 * row + 9)) as unknown as Mat3);

/**
 * Motion at a frame by differences between its neighbours, at most 0.25 s away; nil where it has none that near.
 * Accuracy: second order in the frame interval; at 50 Hz and gusts of 2 Hz the rates are right to 1 %.
 */
function frameMotion(poses: FramePoses, row: number): FrameMotion {
  const near = (other: number): number =>
    other >= 0 && other < poses.count && Math.abs(poses.tNs[other] - poses.tNs[row]) <= 0.25e9 ? other : row;
  const before = near(row - 1);
  const after = near(row + 1);
  const enuFromUv = enuFromUvOf(poses, row);
  const originEnuM = originOf(poses, row);
  const tNs = poses.tNs[row];
  const exposureS = poses.exposureNs[row] * 1e-9;
  const seconds = (poses.tNs[after] - poses.tNs[before]) * 1e-9;
  if (!(seconds > 0))
    return { tNs, enuFromUv, originEnuM, velocityEnuMps: [0, 0, 0], turnEnuRadps: [0, 0, 0], exposureS };
  const turned = multiply(enuFromUvOf(poses, after), transpose(enuFromUvOf(poses, before)));
  return {
    tNs,
    enuFromUv,
    originEnuM,
    velocityEnuMps: scale(subtract(originOf(poses, after), originOf(poses, before)), 1 / seconds),
    turnEnuRadps: scale(vectorFromRotation(turned), 1 / seconds),
    exposureS,
  };
}
