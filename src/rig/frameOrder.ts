import type { TimedMarks } from './pairByTime.ts';

/** A frame that is not what its stamp says. */
export interface MisplacedFrame {
  /** Index into the frames given. */
  readonly index: number;
  readonly kind: 'repeated' | 'swapped with the next';
}

/** An exchange has to explain this share of the unevenness of the motion around it. */
const EXPLAINED = 0.98;
/** And the unevenness to stand this far above what the finders' noise makes. */
const ABOVE_NOISE = 10;

/**
 * Frames delivered twice and neighbours delivered in the wrong order, from the marks alone. A repeated frame has the marks of
 * the one before to the last bit, which no two exposures have; swapped ones make the target jump to and fro, and lie on a smooth
 * path once exchanged.
 * @param frames of one stream in order of time
 * Limit: an exchange is told where the target moves by more than about five times the finders' noise between frames.
 */
export function misplacedFrames(frames: readonly TimedMarks[], frameIntervalNs: number): MisplacedFrame[] {
  const found: MisplacedFrame[] = [];
  const repeated = new Set<number>();
  for (let i = 1; i < frames.length; i++) {
    if (!same(frames[i - 1], frames[i])) continue;
    repeated.add(i);
    found.push({ index: i, kind: 'repeated' });
  }
  // Unequal steps would look like uneven motion.
  const follows = (i: number): boolean =>
    i > 0 &&
    i < frames.length &&
    !repeated.has(i) &&
    !repeated.has(i - 1) &&
    Math.abs(frames[i].tNs - frames[i - 1].tNs - frameIntervalNs) <= 0.1 * frameIntervalNs;
  for (let i = 1; i + 2 < frames.length; i++) {
    if (![i, i + 1, i + 2].every(follows)) continue;
    const from = follows(i - 1) ? i - 2 : i - 1;
    const to = follows(i + 3) ? i + 3 : i + 2;
    // With a frame missing on one side as well, the path is still long enough.
    if (to - from < 4) continue;
    const stretch = frames.slice(from, to + 1);
    const other = [...stretch];
    [other[i - from], other[i + 1 - from]] = [frames[i + 1], frames[i]];
    const asStamped = unevenness(stretch);
    const exchanged = unevenness(other);
    if (!asStamped || !exchanged) continue;
    if (
      asStamped.squares > ABOVE_NOISE * asStamped.expected &&
      exchanged.squares < (1 - EXPLAINED) * asStamped.squares
    ) {
      found.push({ index: i, kind: 'swapped with the next' });
      i++;
    }
  }
  return found.sort((a, b) => a.index - b.index);
}

function same(a: TimedMarks, b: TimedMarks): boolean {
  let seen = 0;
  for (let i = 0; i < a.marks.length; i++) {
    const [p, q] = [a.marks[i], b.marks[i]];
    if (!p && !q) continue;
    if (!p || !q || p.u !== q.u || p.v !== q.v) return false;
    seen++;
  }
  return seen > 0;
}

/** Third differences of the marks' paths, squared and summed, with what noise alone makes of them; null for no mark. */
function unevenness(stretch: readonly TimedMarks[]): { squares: number; expected: number } | null {
  let squares = 0;
  let expected = 0;
  stretch[0].marks.forEach((_, mark) => {
    const path = stretch.map((f) => f.marks[mark]);
    if (path.some((p) => !p)) return;
    for (let k = 0; k + 3 < path.length; k++) {
      const [a, b, c, d] = [path[k]!, path[k + 1]!, path[k + 2]!, path[k + 3]!];
      squares += (d.u - 3 * c.u + 3 * b.u - a.u) ** 2 + (d.v - 3 * c.v + 3 * b.v - a.v) ** 2;
      // Variance of a third difference: 1 + 9 + 9 + 1.
      expected += 2 * 20 * b.sigmaPx ** 2;
    }
  });
  return expected > 0 ? { squares, expected } : null;
}
