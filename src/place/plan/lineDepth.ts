import { distanceToComponent } from '../../line/distanceToComponent.ts';
import type { LineModel } from '../../line/LineModel.ts';

/**
 * How far the farthest hardware of a line lies behind the nearest, seen from beside it: twice the widest reach of any
 * component from the line through the feet of its towers, metres.
 */
export function lineDepthM(line: LineModel): number {
  const feet = new Map(line.structures.map((s) => [s.id, s.footEnuM]));
  let widestM = 0;
  for (const { axisEnuM, structureIds } of line.components) {
    const ends = structureIds.flatMap((id) => {
      const foot = feet.get(id);
      return foot ? [[foot[0], foot[1], 0] as const] : [];
    });
    if (ends.length === 0) continue;
    for (const [east, north] of axisEnuM)
      widestM = Math.max(widestM, distanceToComponent([east, north, 0], { axisEnuM: ends, radiusM: 0 }).axisDistanceM);
  }
  return 2 * widestM;
}
