import { InputError } from '../input/InputError.ts';
import type { FrameIndex } from './FrameIndex.ts';
import type { TrajectoryTable } from './TrajectoryTable.ts';

/** @throws InputError where a uv frame lies before the first pose or after the last */
export function checkTrajectoryCovers(
  table: TrajectoryTable,
  file: string,
  index: FrameIndex,
  indexFile: string,
): void {
  const first = index[0].tNs;
  const last = index[index.length - 1].tNs;
  const from = table.tNs[0];
  const to = table.tNs[table.tNs.length - 1];
  if (from <= first && to >= last) return;
  // A trajectory much longer than the frames is likelier than a unit that would make it so.
  const unit = [
    ['microseconds', 1e3],
    ['milliseconds', 1e6],
    ['seconds', 1e9],
  ].find(([, k]) => {
    const lengths = ((to - from) * (k as number)) / Math.max(1, last - first);
    return from * (k as number) <= first && to * (k as number) >= last && lengths < 300;
  });
  const outside = index.reduce((n, frame) => n + (frame.tNs < from || frame.tNs > to ? 1 : 0), 0);
  throw new InputError({
    file,
    field: 't_ns',
    found: `${from} to ${to}${unit === undefined ? '' : `, which looks like ${unit[0]}`}`,
    expected: `times that cover all frames of ${indexFile}, ${first} to ${last} (${outside} of ${index.length} frames lie outside)`,
    todo:
      unit === undefined
        ? 'Export the trajectory of the whole flight, on the same epoch as the frames.'
        : 'Write the times in nanoseconds.',
  });
}
