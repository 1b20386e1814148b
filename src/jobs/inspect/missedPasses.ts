import type { Lens } from '../../camera/Lens.ts';
import { projectPoint } from '../../camera/projectPoint.ts';
import type { RateObservation } from '../../grade/estimatePhotonRate.ts';
import type { Vec3 } from '../../maths/vec3.ts';
import type { FramePoses } from '../../sighting/EventRays.ts';
import { pointInUvM } from '../../sighting/framePoses.ts';
import type { Stretch } from './countSource.ts';

/** Out of the image for longer than this, a place begins another pass. */
const PASS_GAP_NS = 5e9;
/** How far from its projected place a pass shows things is taken from what it showed of others within this time. */
const NEIGHBOUR_NS = 20e9;
/** A pass that should have shown more events than this and did not was no bad luck: something stood before it, or it does not shine that way. */
const MOST_MISSED = 20;

interface MissedPass extends Stretch {
  readonly frames: number;
}

/**
 * Passes that had a discharge in the image without its being found. A faint one is found in those passes in which it happened to be
 * bright: counted there alone it seems brighter than it is.
 * @param seen       the passes that found it
 * @param neighbours where passes showed other things, against their projected places
 * Passes without such a neighbour are left out: an aperture that is off by pixels would lose the light.
 */
export function missedPasses(
  placeEnuM: Vec3,
  seen: readonly Stretch[],
  poses: FramePoses,
  lens: Lens,
  neighbours: readonly Stretch[],
): MissedPass[] {
  const runs: { fromNs: number; toNs: number; frames: number }[] = [];
  for (let pose = 0; pose < poses.count; pose++) {
    const px = projectPoint(pointInUvM(poses, pose, placeEnuM), lens);
    if (!px || px[0] < 0 || px[1] < 0 || px[0] > lens.widthPx - 1 || px[1] > lens.heightPx - 1) continue;
    const tNs = poses.tNs[pose];
    const last = runs[runs.length - 1];
    if (last && tNs - last.toNs <= PASS_GAP_NS) {
      last.toNs = tNs;
      last.frames++;
    } else runs.push({ fromNs: tNs, toNs: tNs, frames: 1 });
  }
  return runs.flatMap((run) => {
    if (seen.some(({ fromNs, toNs }) => fromNs <= run.toNs && toNs >= run.fromNs)) return [];
    const middleNs = (run.fromNs + run.toNs) / 2;
    const near = neighbours.filter(({ fromNs, toNs }) => Math.abs((fromNs + toNs) / 2 - middleNs) <= NEIGHBOUR_NS);
    if (near.length === 0) return [];
    const mean = (axis: 0 | 1): number => near.reduce((sum, { offsetPx }) => sum + offsetPx[axis], 0) / near.length;
    return [{ ...run, offsetPx: [mean(0), mean(1)] as const }];
  });
}

/** Counts a discharge over the passes that found it, and over those that missed it by what may be bad luck. */
export function countWithMissed(
  count: (stretches: readonly Stretch[]) => RateObservation | null,
  seen: readonly Stretch[],
  missed: readonly MissedPass[],
): RateObservation | null {
  const found = count(seen);
  if (!found) return null;
  const sum = (of: Float64Array): number => of.reduce((total, value) => total + value, 0);
  const perFrame = (sum(found.counts) - sum(found.background)) / found.counts.length;
  const byChance = missed.filter(({ frames }) => frames * perFrame <= MOST_MISSED);
  return byChance.length > 0 ? (count([...seen, ...byChance]) ?? found) : found;
}
