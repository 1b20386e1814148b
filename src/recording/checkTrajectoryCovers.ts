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
        ? `Export the trajectory of the whole flight, on the same epoch as the frames.${shiftOf(from - first, to - last)}`
        : 'Write the times in nanoseconds.',
  });
}

/** Begin and end shifted alike by the difference of two time scales are hardly a trajectory cut short. */
function shiftOf(beginNs: number, endNs: number): string {
  const shiftS = (beginNs + endNs) / 2e9;
  const alike = Math.abs(beginNs - endNs) < 5e9;
  const near = [18, 19, 37].some((s) => Math.abs(Math.abs(shiftS) - s) < 2.5);
  if (!alike || !near) return '';
  return ` It is shifted by about ${shiftS.toFixed(0)} s as a whole: GPS time is 18 s ahead of UTC, TAI 19 s of GPS time and 37 s of UTC.`;
}
