import type { Lens } from '../../camera/Lens.ts';
import { projectPoint } from '../../camera/projectPoint.ts';
import { chiSquareQuantile } from '../../maths/distributions.ts';
import { distance, norm, type Vec3 } from '../../maths/vec3.ts';
import { disagreement, type PlacedOccasion } from '../../place/agreement.ts';
import { placeBundle } from '../../place/placeSighting.ts';
import type { SystematicErrors } from '../../place/SystematicErrors.ts';
import type { EventRays, FramePoses } from '../../sighting/EventRays.ts';
import { pointInUvM } from '../../sighting/framePoses.ts';
import type { Sighting } from '../../sighting/Sighting.ts';
import type { CheckFinding } from './CheckFinding.ts';
import type { FrameRange } from './sampleFrames.ts';

/** The sightings of one unbroken stretch of frames: in stretches pieced together, two passes would count as one. */
export interface SearchedStretch {
  readonly sightings: readonly Sighting[];
  readonly rays: EventRays;
  readonly poses: FramePoses;
}

export interface RigAgreement {
  /** Strong sources that the sampled stretches showed, and rays they rest on. */
  readonly sources: number;
  readonly rays: number;
  /** Root mean square of residuals over their standard deviations, of all rays; 1 where the errors are as stated. */
  readonly normalisedRms: number | null;
  /** The same place seen in two passes. */
  readonly pairs: readonly { readonly apartM: number; readonly chiSquare: number; readonly agrees: boolean }[];
}

/** Sightings that take part: certain, and with rays enough that their scatter says something. */
const LEAST_RAYS = 8;
/** Farther apart than this, two places are two sources. */
const SAME_WITHIN_M = 3;
const PASS_GAP_NS = 5e9;
/** Probability that a sound rig is blamed. */
const FALSE_BLAME = 1e-3;
/** Residuals this much larger than stated make positions worse than stated; twice as much, and the rays do not meet. */
const RMS_WARNING = 1.3;
const RMS_FAULT = 2;

/**
 * Whether strong sources are as sharp as registration and mounting promise, and whether passes agree on where they are.
 * What all passes share (a boresight that shifts everything alike) shows only between passes in different directions.
 */
export function rigAgreement(
  flight: string,
  stretches: readonly SearchedStretch[],
  errorsAt: (tNs: number) => SystematicErrors,
): { readonly figures: RigAgreement; readonly findings: CheckFinding[] } {
  const placed: PlacedOccasion[] = [];
  let moving = 0;
  for (const { sightings, rays, poses } of stretches)
    for (const sighting of sightings) {
      if (sighting.rays.length < LEAST_RAYS) continue;
      if (sighting.suspicions.includes('moves in space')) moving++;
      if (sighting.suspicions.length > 0) continue;
      const tNs = (sighting.fromNs + sighting.toNs) / 2;
      const errors = errorsAt(tNs);
      const outcome = placeBundle(sighting, rays, poses, errors);
      if (!('kind' in outcome)) placed.push({ ...outcome, flight, tNs, errors });
    }
  let squares = 0;
  let degrees = 0;
  for (const { placement } of placed) {
    const free = 2 * placement.rays - 3;
    squares += free * placement.normalisedRms ** 2;
    degrees += free;
  }
  const normalisedRms = degrees > 0 ? Math.sqrt(squares / degrees) : null;
  const pairs = pairsOf(placed).map(([a, b]) => {
    const chiSquare = disagreement([a, b]);
    return {
      apartM: distance(a.placement.positionEnuM, b.placement.positionEnuM),
      chiSquare,
      agrees: chiSquare <= chiSquareQuantile(1 - FALSE_BLAME, 3),
    };
  });
  const findings: CheckFinding[] = [];
  if (normalisedRms !== null && normalisedRms > RMS_WARNING && squares > chiSquareQuantile(1 - FALSE_BLAME, degrees))
    findings.push({
      area: 'rig',
      weight: normalisedRms > RMS_FAULT ? 'fault' : 'warning',
      name: 'rays scatter',
      detail: `rays of ${placed.length} strong sources scatter ${normalisedRms.toFixed(2)} times as much as stated: focus, lens, attitude or time are not as registered`,
    });
  if (moving > Math.max(1, placed.length))
    findings.push({
      area: 'rig',
      weight: 'warning',
      name: 'sources seem to move',
      detail: `${moving} strong sources seem to move, ${placed.length} to rest: the attitude or the clock may not be that of the images`,
    });
  const apart = pairs.filter((pair) => !pair.agrees);
  if (apart.length > 0) {
    const largestM = Math.max(...apart.map((pair) => pair.apartM));
    findings.push({
      area: 'rig',
      weight: 2 * apart.length > pairs.length ? 'fault' : 'warning',
      name: 'passes disagree',
      detail: `${apart.length} of ${pairs.length} sources seen in two passes stand apart by up to ${largestM.toFixed(2)} m, more than the stated errors allow: boresight, lever arm or time offset have moved`,
    });
  }
  return {
    figures: {
      sources: placed.length,
      rays: placed.reduce((sum, p) => sum + p.placement.rays, 0),
      normalisedRms,
      pairs,
    },
    findings,
  };
}

/** Places of different passes that are each other's nearest. */
function pairsOf(placed: readonly PlacedOccasion[]): [PlacedOccasion, PlacedOccasion][] {
  const nearest = placed.map((a) => {
    let best: PlacedOccasion | null = null;
    let bestM = SAME_WITHIN_M;
    for (const b of placed) {
      const apartM = distance(a.placement.positionEnuM, b.placement.positionEnuM);
      if (Math.abs(a.tNs - b.tNs) < PASS_GAP_NS || apartM >= bestM) continue;
      best = b;
      bestM = apartM;
    }
    return best;
  });
  return placed.flatMap((a, i): [PlacedOccasion, PlacedOccasion][] => {
    const b = nearest[i];
    return b && nearest[placed.indexOf(b)] === a && placed.indexOf(b) > i ? [[a, b]] : [];
  });
}

/** Frames of a revisit: the middle of the other pass. */
const REVISIT_FRAMES = 150;
const MOST_REVISITS = 6;

/**
 * Stretches of other passes that have the strongest sources in view: read as well, they tell whether passes agree.
 * @param taken stretches already read; none is given twice
 */
export function revisits(
  sightings: readonly Sighting[],
  poses: FramePoses,
  lens: Lens,
  taken: readonly FrameRange[],
  farthestM: number,
): FrameRange[] {
  const used = taken.map((range) => ({ ...range }));
  const out: FrameRange[] = [];
  const strongest = sightings
    .filter((s) => s.suspicions.length === 0 && s.rays.length >= LEAST_RAYS)
    .sort((a, b) => b.logLikelihoodRatio - a.logLikelihoodRatio);
  for (const sighting of strongest)
    for (const pass of passesOver(sighting.seedEnuM, poses, lens, farthestM)) {
      if (out.length >= MOST_REVISITS) return out.sort((a, b) => a.from - b.from);
      const middle = pass[pass.length >> 1];
      const near = Math.abs(poses.tNs[middle] - (sighting.fromNs + sighting.toNs) / 2) < PASS_GAP_NS;
      const half = Math.min(REVISIT_FRAMES, pass.length) >> 1;
      const range = {
        from: poses.frame[Math.max(0, middle - half)],
        to: poses.frame[Math.min(poses.count - 1, middle + half)],
      };
      if (near || range.to <= range.from || used.some((u) => range.from < u.to && u.from < range.to)) continue;
      used.push(range);
      out.push(range);
    }
  return out.sort((a, b) => a.from - b.from);
}

/** Rows of `poses` that have a place in view, pass by pass. */
function passesOver(placeEnuM: Vec3, poses: FramePoses, lens: Lens, farthestM: number): number[][] {
  const passes: number[][] = [];
  let lastNs = Number.NEGATIVE_INFINITY;
  for (let row = 0; row < poses.count; row++) {
    const inUvM = pointInUvM(poses, row, placeEnuM);
    const px = norm(inUvM) <= farthestM ? projectPoint(inUvM, lens) : null;
    if (!px || px[0] < 0 || px[1] < 0 || px[0] > lens.widthPx - 1 || px[1] > lens.heightPx - 1) continue;
    if (poses.tNs[row] - lastNs > PASS_GAP_NS) passes.push([]);
    lastNs = poses.tNs[row];
    passes[passes.length - 1].push(row);
  }
  return passes;
}
