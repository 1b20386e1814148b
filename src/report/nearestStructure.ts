import type { LineModel, Structure } from '../line/LineModel.ts';
import type { Vec3 } from '../maths/vec3.ts';

/** The structure whose foot is nearest in plan; null where the line has none. */
export function nearestStructure(line: LineModel, [e, n]: Vec3): Structure | null {
  let best: Structure | null = null;
  let least = Number.POSITIVE_INFINITY;
  for (const structure of line.structures) {
    const d = Math.hypot(structure.footEnuM[0] - e, structure.footEnuM[1] - n);
    if (d < least) [best, least] = [structure, d];
  }
  return best;
}
