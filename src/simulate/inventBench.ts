import type { Random } from '../maths/random.ts';
import { add, type Vec3 } from '../maths/vec3.ts';
import { CHECKS } from './boardPattern.ts';
import { boardPoseAt } from './boardPose.ts';
import { normalVec } from './inventRig.ts';
import { inventWobble } from './Wobble.ts';
import type { BenchMark, BenchSweep, BoardKind, InventedBench, InventedRig } from './World.ts';

const RAD = Math.PI / 180;
const RATE_HZ = 10;
const FRAMES_PER_SWEEP = 110;
const BREAK_S = 3;
const FIRST_S = 1;
/** Gain settings that keep the lamps in the sensor's range, save in the nearest sweep, which overdrives it. */
const SWEEPS = [
  { meanRangeM: 8, gain: 2 },
  { meanRangeM: 12, gain: 1 },
  { meanRangeM: 18, gain: 1 },
  { meanRangeM: 28, gain: 2 },
  { meanRangeM: 45, gain: 3 },
] as const;

/** Lamps sit a few centimetres beside their discs, each on its own side, so that no single shift can stand for all of them,
 * and no two lamps nearer to each other than 0.4 m: 9 px at 45 m. */
const MARKS: readonly { id: string; discM: Vec3; lampOffM: Vec3 }[] = [
  { id: 'm1', discM: [-0.4, -0.25, 0], lampOffM: [0, 0.085, -0.02] },
  { id: 'm2', discM: [0, -0.2, 0], lampOffM: [0, -0.085, -0.02] },
  { id: 'm3', discM: [0.41, -0.1, 0], lampOffM: [0, -0.085, -0.02] },
  { id: 'm4', discM: [0.28, 0.25, 0], lampOffM: [-0.085, 0, -0.02] },
  { id: 'm5', discM: [-0.3, 0.22, 0], lampOffM: [0.085, 0, -0.02] },
];

export function inventBench(random: Random, rig: InventedRig, board: BoardKind = 'discs'): InventedBench {
  const { uv, colour } = rig.nominal.cameras;
  const statedMarks: BenchMark[] = MARKS.map(({ id, discM, lampOffM }) => ({
    id,
    discM,
    lampM: add(discM, lampOffM),
    discDiameterM: 0.12,
  }));
  const marksSigmaM = 0.0005;
  const marks = statedMarks.map((m) => ({
    ...m,
    discM: add(m.discM, normalVec(random, marksSigmaM)),
    lampM: add(m.lampM, normalVec(random, marksSigmaM)),
  }));
  const halfField: Vec3 = [
    Math.min(
      (uv.widthPx * uv.pixelPitchUm) / uv.focalMm / 2000,
      (colour.widthPx * colour.pixelPitchUm) / colour.focalMm / 2000,
    ),
    Math.min(
      (uv.heightPx * uv.pixelPitchUm) / uv.focalMm / 2000,
      (colour.heightPx * colour.pixelPitchUm) / colour.focalMm / 2000,
    ),
    0,
  ];
  const tNs: number[] = [];
  const sweeps: BenchSweep[] = SWEEPS.map(({ meanRangeM, gain }, i) => {
    const fromS = FIRST_S + i * (FRAMES_PER_SWEEP / RATE_HZ + BREAK_S);
    for (let k = 0; k < FRAMES_PER_SWEEP; k++) tNs.push(Math.round((fromS + k / RATE_HZ) * 1e9));
    const toS = fromS + (FRAMES_PER_SWEEP - 1) / RATE_HZ;
    const motion = {
      x: [{ amplitude: 1, omegaRadPerS: (2 * Math.PI) / (7.4 + random.uniform()), phaseRad: 7 * random.uniform() }],
      y: [
        { amplitude: 1, omegaRadPerS: (2 * Math.PI) / (4.2 + 0.5 * random.uniform()), phaseRad: 7 * random.uniform() },
      ],
      yaw: inventWobble(random, 11 * RAD, 0.08, 0.3, 4),
      pitch: inventWobble(random, 11 * RAD, 0.08, 0.3, 4),
      roll: inventWobble(random, 6 * RAD, 0.08, 0.3, 4),
      range: inventWobble(random, 0.02, 0.06, 0.3, 4),
    };
    const rangeSigmaM = 0.01 + 0.001 * meanRangeM;
    // The board may leave the picture by a part of itself: marks at the very rim of the field are worth having.
    const reach = [halfField[0] - 0.3 / meanRangeM, halfField[1] - 0.2 / meanRangeM] as const;
    const bare = {
      name: `about ${meanRangeM} m`,
      fromS,
      toS,
      meanRangeM,
      gain,
      motion,
      reach,
      rangeSigmaM,
      statedRangeM: 0,
    };
    const middle = boardPoseAt(bare, (fromS + toS) / 2).translation[2];
    return { ...bare, statedRangeM: middle + rangeSigmaM * random.normal() };
  });
  const jitterNs = () => Math.round(1e5 * random.normal());
  return {
    name: 'bench, five ranges',
    board,
    epochUtc: '2026-05-11T19:40:00Z',
    rateHz: RATE_HZ,
    boardSizeM:
      board === 'chessboard' || board === 'coded board'
        ? [CHECKS[board].columns * CHECKS[board].squareM, CHECKS[board].rows * CHECKS[board].squareM]
        : [1, 0.7],
    marks,
    statedMarks,
    marksSigmaM,
    sweeps,
    uvTimes: { tNs: Float64Array.from(tNs, (t) => t + jitterNs()), exposureNs: 4_000_000 },
    colourTimes: { tNs: Float64Array.from(tNs, (t) => t + jitterNs()), exposureNs: 2_000_000 },
    lampEventsAt1M: 2400 * 8 * 8,
  };
}
