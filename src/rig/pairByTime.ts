import type { SeenMark } from './BenchObservations.ts';

/** The lamps of one uv frame, by mark; null where a mark was not seen. */
export interface TimedMarks {
  readonly tNs: number;
  readonly marks: readonly (SeenMark | null)[];
}

/** Frames further apart than this share of the frame interval are not paired through each other. */
const LONGEST_GAP_FRAMES = 2.5;
/** Stamps closer than this need no neighbour: at 1000 px/s the lamp moves 0.01 px. */
const SAME_INSTANT_NS = 10_000;

/**
 * Where each lamp stood at the middle of a colour exposure: on the straight line between the uv frames before and after.
 * A curved path leaves the chord by acceleration · t (T - t) / 2, a few thousandths of a pixel where both cameras are
 * triggered together.
 * @param uv frames in order of time
 * @returns  one entry per mark; null where the lamp was not seen on both sides
 */
export function lampsAt(uv: readonly TimedMarks[], tNs: number, frameIntervalNs: number): (SeenMark | null)[] {
  let low = 0;
  let high = uv.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (uv[middle].tNs <= tNs) low = middle + 1;
    else high = middle;
  }
  const before = uv[low - 1];
  const after = uv[low];
  const nearest = !before ? after : !after || tNs - before.tNs <= after.tNs - tNs ? before : after;
  // A path is bent: without a uv frame of about the same instant, the chord across a gap misses it by pixels.
  if (!nearest || Math.abs(tNs - nearest.tNs) > 0.5 * frameIntervalNs) return [];
  const other = nearest === before ? after : before;
  // Beyond the last neighbour on one side, the one on the far side of the nearest gives the speed.
  const index = nearest === before ? low - 1 : low;
  const behind = nearest === before ? uv[index - 1] : uv[index + 1];
  return nearest.marks.map((mark, i) => {
    if (!mark) return null;
    if (Math.abs(tNs - nearest.tNs) <= SAME_INSTANT_NS) return mark;
    for (const partner of [other, behind]) {
      const there = partner?.marks[i];
      if (!partner || !there) continue;
      if (Math.abs(partner.tNs - nearest.tNs) > LONGEST_GAP_FRAMES * frameIntervalNs) continue;
      const w = (tNs - nearest.tNs) / (partner.tNs - nearest.tNs);
      // Carried on beyond both frames, a path is trusted for a twentieth of an interval only.
      if (w < -0.05) continue;
      return {
        u: mark.u + w * (there.u - mark.u),
        v: mark.v + w * (there.v - mark.v),
        sigmaPx: Math.hypot((1 - w) * mark.sigmaPx, w * there.sigmaPx),
      };
    }
    return null;
  });
}
