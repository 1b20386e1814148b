import type { LineModel } from '../line/LineModel.ts';
import type { Vec3 } from '../maths/vec3.ts';

/** A place told by the line: metres along it from the first structure, and to the right of it looking that way. */
export interface PlaceAlongLine {
  readonly alongM: number;
  readonly acrossM: number;
}

/**
 * Gives the way along the line of any place: structures in their order, joined by straight lines in the plane. Before the
 * first and beyond the last the end spans go on. Null where there are not two structures.
 */
export function alongLine(line: LineModel): ((placeEnuM: Vec3) => PlaceAlongLine) | null {
  const feet = line.structures.map(({ footEnuM }) => footEnuM);
  if (feet.length < 2) return null;
  const startM = [0];
  for (let i = 1; i < feet.length; i++)
    startM.push(startM[i - 1] + Math.hypot(feet[i][0] - feet[i - 1][0], feet[i][1] - feet[i - 1][1]));
  return ([east, north]) => {
    let best = { alongM: 0, acrossM: 0 };
    let leastM2 = Number.POSITIVE_INFINITY;
    for (let i = 0; i + 1 < feet.length; i++) {
      const lengthM = startM[i + 1] - startM[i];
      if (lengthM === 0) continue;
      const ux = (feet[i + 1][0] - feet[i][0]) / lengthM;
      const uy = (feet[i + 1][1] - feet[i][1]) / lengthM;
      const [dx, dy] = [east - feet[i][0], north - feet[i][1]];
      const raw = dx * ux + dy * uy;
      const t = Math.min(i === feet.length - 2 ? raw : lengthM, Math.max(i === 0 ? raw : 0, raw));
      const squaredM2 = (dx - t * ux) ** 2 + (dy - t * uy) ** 2;
      if (squaredM2 >= leastM2) continue;
      leastM2 = squaredM2;
      best = { alongM: startM[i] + t, acrossM: dx * uy - dy * ux };
    }
    return best;
  };
}
