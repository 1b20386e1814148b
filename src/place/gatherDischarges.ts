import { chiSquareQuantile } from '../maths/distributions.ts';
import { add, distance, scale, type Vec3 } from '../maths/vec3.ts';
import type { EventRays, FramePoses } from '../sighting/EventRays.ts';
import type { Sighting } from '../sighting/Sighting.ts';
import { disagreement, type PlacedOccasion } from './agreement.ts';
import { correctedPlaces, correctMounting, type RigEstimate } from './correctMounting.ts';
import type { Discharge, Gathering } from './Discharge.ts';
import { confidenceFactor, errorEllipsoid } from './errorEllipsoid.ts';
import type { Placement } from './Placement.ts';
import { placeJointly } from './placeJointly.ts';
import {
  HOLD_ABOVE_M,
  lateralSigmaRad,
  type Placed,
  type PlacingOptions,
  placeBundle,
  withoutHold,
} from './placeSighting.ts';
import { meanRay } from './RayBundle.ts';
import type { SystematicErrors } from './SystematicErrors.ts';

/** A sighting with all that its place follows from. */
export interface SightingToPlace {
  readonly flight: string;
  readonly sighting: Sighting;
  readonly rays: EventRays;
  readonly poses: FramePoses;
  readonly errors: SystematicErrors;
}

/** Probability that sightings of one source are taken for two. */
const SPLIT_PROBABILITY = 0.001;

interface Cluster {
  readonly members: readonly Member[];
  readonly chiSquare: number;
}
interface Member extends PlacedOccasion {
  readonly sightingId: string;
  readonly fromNs: number;
  readonly toNs: number;
  readonly order: number;
}

/**
 * Places every sighting and joins those of one source: the pair of groups that agrees best is joined first, as long as
 * the joining raises chi-square by no more than three degrees of freedom allow (99.9 %). Each discharge of several
 * sightings is then solved again over all its rays, with the errors of rig and passes as nuisances. Last, what all of them together
 * say of boresight and time offset is asked for (correctMounting), and followed where it holds on sightings that it had not seen.
 * All inputs must be of one rig and one local frame. Ids must be unique.
 */
export function gatherDischarges(inputs: readonly SightingToPlace[], options: PlacingOptions = {}): Gathering {
  const unplaced: Gathering['unplaced'][number][] = [];
  const clusters: Cluster[] = [];
  inputs.forEach((input, order) => {
    const placed = placeBundle(input.sighting, input.rays, input.poses, input.errors, options);
    if ('kind' in placed) unplaced.push({ sightingId: input.sighting.id, refusal: placed });
    else
      clusters.push({
        members: [
          {
            ...placed,
            flight: input.flight,
            tNs: placed.bundle.tNs,
            errors: input.errors,
            sightingId: input.sighting.id,
            fromNs: input.sighting.fromNs,
            toNs: input.sighting.toNs,
            order,
          },
        ],
        chiSquare: 0,
      });
  });
  const limit = chiSquareQuantile(1 - SPLIT_PROBABILITY, 3);
  const discharges = join(clusters, limit)
    .flatMap((cluster) => solve(cluster, options))
    .sort((a, b) => a.order - b.order);
  const { correction, estimate } = options.asMounted
    ? NOT_ASKED_FOR
    : correctMounting(discharges.map((d) => d.members));
  const follow = estimate ? following(discharges, estimate) : discharges;
  return {
    discharges: follow.map((d, i) => withConfusable(d, discharges[i], discharges, limit)),
    unplaced,
    correction,
  };
}

const NOT_ASKED_FOR = {
  correction: { kind: 'left', because: 'not asked for', oppositeDischarges: 0 },
  estimate: null,
} as const;

/** Places that follow an adopted correction. One whose depth the line lent stays as it was: its error is another. */
function following(discharges: readonly Solved[], estimate: RigEstimate): Solved[] {
  const free = discharges.filter((d) => !d.placement.heldByLine);
  const corrected = new Map(
    correctedPlaces(
      free.map((d) => d.members),
      estimate,
    ).map((place, i) => [free[i], place]),
  );
  return discharges.map((d) => {
    const place = corrected.get(d);
    if (!place) return d;
    const { positionEnuM, covarianceEnuM2 } = d.placement;
    return { ...d, placement: { ...d.placement, ...place }, asMounted: { positionEnuM, covarianceEnuM2 } };
  });
}

interface Solved {
  readonly order: number;
  readonly members: readonly Member[];
  readonly placement: Placed;
  readonly asMounted?: Discharge['asMounted'];
}

interface Pair {
  readonly a: Cluster;
  readonly b: Cluster;
  readonly rise: number;
}

/** Joins what agrees, best agreement first; ties go to the earlier pair, so that the result is one. */
function join(singles: readonly Cluster[], limit: number): Cluster[] {
  const clusters = new Set(singles);
  const pairs = new Set<Pair>();
  const consider = (a: Cluster, b: Cluster): void => {
    if (!mayMeet(a, b)) return;
    const rise = riseOf(a, b);
    if (rise < limit) pairs.add(firstOf(a) < firstOf(b) ? { a, b, rise } : { a: b, b: a, rise });
  };
  singles.forEach((b, i) => {
    for (const a of singles.slice(0, i)) consider(a, b);
  });
  while (pairs.size > 0) {
    const { a, b, rise } = [...pairs].reduce((best, pair) => (before(pair, best) ? pair : best));
    const joined: Cluster = {
      members: [...a.members, ...b.members].sort((x, y) => x.order - y.order),
      chiSquare: a.chiSquare + b.chiSquare + rise,
    };
    clusters.delete(a);
    clusters.delete(b);
    for (const pair of pairs) if ([pair.a, pair.b].some((c) => c === a || c === b)) pairs.delete(pair);
    for (const other of clusters) consider(other, joined);
    clusters.add(joined);
  }
  return [...clusters];
}

const firstOf = (cluster: Cluster): number => cluster.members[0].order;
const before = (p: Pair, q: Pair): boolean =>
  p.rise < q.rise || (p.rise === q.rise && (firstOf(p.a) - firstOf(q.a) || firstOf(p.b) - firstOf(q.b)) < 0);

const riseOf = (a: Cluster, b: Cluster): number =>
  disagreement([...a.members, ...b.members]) - a.chiSquare - b.chiSquare;

/** A cheap bound first: further apart than five of their largest sigmas together, they cannot agree. */
function mayMeet(a: Cluster, b: Cluster): boolean {
  return a.members.some((x) =>
    b.members.some((y) => distance(freePosition(x), freePosition(y)) < 5 * (reachM(x) + reachM(y))),
  );
}
const freePosition = (m: Member): Vec3 => m.placement.withoutLine?.positionEnuM ?? m.placement.positionEnuM;
function reachM(m: Member): number {
  const c = m.placement.withoutLine?.covarianceEnuM2 ?? m.placement.covarianceEnuM2;
  return Math.sqrt(c[0] + c[4] + c[8]);
}

/** One discharge; or, where the joint solution fails, each sighting by itself. */
function solve({ members }: Cluster, options: PlacingOptions): Solved[] {
  const alone = (): Solved[] => members.map((m) => ({ order: m.order, members: [m], placement: m.placement }));
  if (members.length === 1) return alone();
  const surest = [...members].sort((a, b) => reachM(a) - reachM(b))[0];
  const placement = heldWhereLong(placeJointly(members, freePosition(surest)), surest, members, options);
  return placement.kind === 'placed' ? [{ order: members[0].order, members, placement }] : alone();
}

/** Passes that all look along one direction leave the depth open, as a single one does: then the line is asked. */
function heldWhereLong(
  free: Placement,
  surest: Member,
  members: readonly Member[],
  options: PlacingOptions,
): Placement {
  const sigmaM =
    free.kind === 'placed'
      ? errorEllipsoid(free.covarianceEnuM2).halfAxesM[0] / confidenceFactor(0.95, 3)
      : Number.POSITIVE_INFINITY;
  if (sigmaM <= (options.holdAboveM ?? HOLD_ABOVE_M) || !options.depthFromLine) return free;
  const view = meanRay(surest.bundle);
  const prior = options.depthFromLine(
    view.originEnuM,
    view.directionEnu,
    lateralSigmaRad(surest.bundle, surest.errors),
  );
  if (!prior) return free;
  const hold = { ...view, ...prior };
  const start = add(view.originEnuM, scale(view.directionEnu, prior.depthM));
  const held = placeJointly(members, start, hold);
  if (held.kind === 'refused') return free;
  const withoutLine =
    free.kind === 'placed'
      ? { positionEnuM: free.positionEnuM, covarianceEnuM2: free.covarianceEnuM2 }
      : { positionEnuM: held.positionEnuM, covarianceEnuM2: withoutHold(held.covarianceEnuM2, hold) };
  return { ...held, withoutLine };
}

/** @param discharge with the place that is told; `own` is the same among `all`, placed as mounted */
function withConfusable(discharge: Solved, own: Solved, all: readonly Solved[], limit: number): Discharge {
  const asCluster = (members: readonly Member[]): Cluster => ({ members, chiSquare: disagreement(members) });
  const confusableWith = all
    .filter((other) => other !== own)
    .filter((other) => {
      const whole = asCluster(other.members);
      return discharge.members.some((m) => {
        const one = asCluster([m]);
        return mayMeet(one, whole) && riseOf(one, whole) < limit;
      });
    })
    .map((other) => other.members[0].sightingId);
  return {
    id: discharge.members[0].sightingId,
    sightingIds: discharge.members.map((m) => m.sightingId),
    passes: passesOf(discharge.members),
    placement: discharge.placement,
    ...(discharge.asMounted ? { asMounted: discharge.asMounted } : {}),
    confusableWith,
  };
}

/** Out of sight for longer than this, seconds, and it is another pass: drones turn and come back within ten. */
const PASS_GAP_S = 5;

function passesOf(members: readonly Member[]): number {
  const ordered = [...members].sort((a, b) =>
    a.flight < b.flight ? -1 : a.flight > b.flight ? 1 : a.fromNs - b.fromNs,
  );
  let passes = 0;
  let flight = '';
  let seenUntilNs = Number.NEGATIVE_INFINITY;
  for (const member of ordered) {
    if (passes === 0 || member.flight !== flight || member.fromNs - seenUntilNs > PASS_GAP_S * 1e9) passes++;
    seenUntilNs = member.flight === flight ? Math.max(seenUntilNs, member.toNs) : member.toNs;
    flight = member.flight;
  }
  return passes;
}
