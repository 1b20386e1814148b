import { multiply } from '../maths/mat3.ts';
import type { RigidTransform } from '../maths/rigidTransform.ts';
import { rotationX, rotationY, rotationZ } from '../maths/rotation.ts';
import { wobbleAt } from './Wobble.ts';
import type { BenchSweep } from './World.ts';

const STEEPEST_RAD = (25 * Math.PI) / 180;
const tilted = (rad: number): number => STEEPEST_RAD * Math.tanh(rad / STEEPEST_RAD);

/** Where the board is held at a moment of its sweep: `uvFromBoard`. */
export function boardPoseAt(sweep: Omit<BenchSweep, 'statedRangeM'>, tS: number): RigidTransform {
  const { motion, reach } = sweep;
  const z = sweep.meanRangeM * (1 + wobbleAt(motion.range, tS));
  return {
    rotation: multiply(
      multiply(rotationY(tilted(wobbleAt(motion.yaw, tS))), rotationX(tilted(wobbleAt(motion.pitch, tS)))),
      rotationZ(wobbleAt(motion.roll, tS)),
    ),
    translation: [z * reach[0] * wobbleAt(motion.x, tS), z * reach[1] * wobbleAt(motion.y, tS), z],
  };
}
