import type { BenchFrame, MarkPair, SeenMark } from './BenchObservations.ts';
import type { StreamClock } from './streamClock.ts';

/** The marks of one frame of one stream, by number; null where a mark was not seen. */
export interface TimedMarks {
  readonly tNs: number;
  readonly marks: readonly (SeenMark | null)[];
}

/** The same with what a bench frame is called and which sweep it belongs to. */
export interface NamedMarks extends TimedMarks {
  readonly name: string;
  readonly sweep: number;
}

/** A lamp at an instant between frames, with its speed where two frames around it tell it. */
export interface MovingMark extends SeenMark {
  readonly ratePxPerS: readonly [number, number] | null;
}

/** Frames further apart than this share of the frame interval are not paired through each other. */
const LONGEST_GAP_FRAMES = 2.5;
/** Four frames no further apart than this carry a cubic. */
const CUBIC_GAP_FRAMES = 1.5;
/** Stamps closer than this need no neighbour: at 1000 px/s the lamp moves 0.01 px. */
const SAME_INSTANT_NS = 10_000;

/**
 * Where each lamp stood at the middle of a colour exposure: on the cubic through the two uv frames before and the two
 * after, or, where one of them is missing, on the straight line between the nearest two. The chord leaves a curved path by
 * acceleration · t (T - t) / 2, tenths of a pixel half way between frames of a target moved by hand; the cubic by a
 * few thousandths.
 * @param uv frames in order of time
 * @returns  one entry per mark; null where the lamp was not seen on both sides
 */
export function lampsAt(uv: readonly TimedMarks[], tNs: number, frameIntervalNs: number): (MovingMark | null)[] {
  const low = countUpTo(uv, tNs);
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
    const ratePxPerS = rateAt(uv, index, i, frameIntervalNs);
    if (Math.abs(tNs - nearest.tNs) <= SAME_INSTANT_NS) return { ...mark, ratePxPerS };
    const bent = onCubic(uv, low, i, tNs, frameIntervalNs);
    if (bent) return { ...bent, ratePxPerS };
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
        ratePxPerS,
      };
    }
    return null;
  });
}

/**
 * Bench frames from the marks found in each stream: every colour frame with the lamps at its instant.
 * @param clock what is known of the clocks: colour stamps are carried to the uv clock by it; null takes them as they are
 */
export function pairStreams(
  lamps: readonly TimedMarks[],
  discs: readonly NamedMarks[],
  uvIntervalNs: number,
  clock: Pick<StreamClock, 'offsetMs' | 'driftPpm' | 'aboutNs'> | null,
): { readonly frames: BenchFrame[]; readonly unpaired: readonly string[] } {
  const frames: BenchFrame[] = [];
  const unpaired: string[] = [];
  for (const { name, tNs, sweep, marks } of discs) {
    const atNs = clock ? tNs + clock.offsetMs * 1e6 + clock.driftPpm * 1e-6 * (tNs - clock.aboutNs) : tNs;
    const there = lampsAt(lamps, atNs, uvIntervalNs);
    if (!there.some((m) => m !== null)) {
      unpaired.push(name);
      continue;
    }
    frames.push({
      name,
      tNs: atNs,
      sweep,
      marks: marks.flatMap((colour, mark): MarkPair[] => {
        const lamp = there[mark] ?? null;
        if (!lamp && !colour) return [];
        const uv = lamp && { u: lamp.u, v: lamp.v, sigmaPx: lamp.sigmaPx };
        return [{ mark, uv, colour, ...(lamp?.ratePxPerS ? { uvRatePxPerS: lamp.ratePxPerS } : {}) }];
      }),
    });
  }
  return { frames, unpaired };
}

function countUpTo(uv: readonly TimedMarks[], tNs: number): number {
  let low = 0;
  let high = uv.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (uv[middle].tNs <= tNs) low = middle + 1;
    else high = middle;
  }
  return low;
}

/** Lagrange's cubic through the frames low - 2 to low + 1. */
function onCubic(
  uv: readonly TimedMarks[],
  low: number,
  mark: number,
  tNs: number,
  frameIntervalNs: number,
): SeenMark | null {
  const four = [uv[low - 2], uv[low - 1], uv[low], uv[low + 1]];
  let u = 0;
  let v = 0;
  let variance = 0;
  for (let i = 0; i < 4; i++) {
    const seen = four[i]?.marks[mark];
    if (!seen || (i > 0 && four[i].tNs - four[i - 1].tNs > CUBIC_GAP_FRAMES * frameIntervalNs)) return null;
    let w = 1;
    for (let j = 0; j < 4; j++) if (j !== i) w *= (tNs - four[j]?.tNs) / (four[i].tNs - four[j]?.tNs);
    if (!Number.isFinite(w)) return null;
    u += w * seen.u;
    v += w * seen.v;
    variance += (w * seen.sigmaPx) ** 2;
  }
  return { u, v, sigmaPx: Math.sqrt(variance) };
}

/** From the frames on either side of frame `index`, so that its own noise has no part in it. */
function rateAt(
  uv: readonly TimedMarks[],
  index: number,
  mark: number,
  frameIntervalNs: number,
): readonly [number, number] | null {
  const a = uv[index - 1];
  const b = uv[index + 1];
  const from = a?.marks[mark];
  const to = b?.marks[mark];
  if (!from || !to || b.tNs - a.tNs > 2 * CUBIC_GAP_FRAMES * frameIntervalNs) return null;
  const seconds = (b.tNs - a.tNs) * 1e-9;
  return [(to.u - from.u) / seconds, (to.v - from.v) / seconds];
}
