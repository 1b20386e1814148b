import { chiSquareQuantile } from '../../maths/distributions.ts';
import { addMat, diagonal3 } from '../../maths/mat3.ts';
import { dot, norm, subtract, type Vec3 } from '../../maths/vec3.ts';
import type { EventRays, FramePoses } from '../../sighting/EventRays.ts';
import { pointInUvM } from '../../sighting/framePoses.ts';
import type { Sighting } from '../../sighting/Sighting.ts';
import { interpolatePoses } from '../../trajectory/interpolatePose.ts';
import type { Track } from '../../trajectory/Track.ts';
import { squaredMahalanobis } from '../errorEllipsoid.ts';
import { gatherDischarges } from '../gatherDischarges.ts';
import { placeBundle } from '../placeSighting.ts';
import type { SystematicErrors } from '../SystematicErrors.ts';
import type { LightPoint, PointView, UvRay } from './PointView.ts';

/** What a flight saw, found with the nominal mounting. */
export interface SeenFlight {
  readonly flight: string;
  readonly track: Track;
  readonly sightings: readonly Sighting[];
  readonly rays: EventRays;
  readonly poses: FramePoses;
  readonly errorsAt: (tNs: number) => SystematicErrors;
}

export interface SurveyedLamp {
  readonly id: string;
  readonly positionEnuM: Vec3;
  readonly sigmaM: number;
}

export interface FlightViews {
  readonly points: readonly LightPoint[];
  readonly views: readonly PointView[];
  /** Sightings that no view was made of. */
  readonly leftOut: ReadonlyMap<LeftOut, number>;
}

export type LeftOut = 'not believed' | 'not placed' | 'fits more than one lamp' | 'seen once only, place unknown';

/** Probability that a sighting of a lamp is not taken for it. */
const MISSED_PROBABILITY = 0.001;

/**
 * The lights of a flight and their views: sightings whose place agrees with one surveyed lamp are its views; others that
 * agree with each other are views of an unknown place.
 */
export function viewsOfFlight(seen: SeenFlight, lamps: readonly SurveyedLamp[]): FlightViews {
  const leftOut = new Map<LeftOut, number>();
  const leave = (because: LeftOut): void => {
    leftOut.set(because, (leftOut.get(because) ?? 0) + 1);
  };
  const uvRaysOf = raysBeforeMounting(seen);
  const found: { sighting: Sighting; light: string }[] = [];
  const rest: Sighting[] = [];
  for (const sighting of seen.sightings) {
    const lamp = lampOf(seen, sighting, lamps);
    if (lamp === 'several') leave('fits more than one lamp');
    else if (lamp) found.push({ sighting, light: lamp.id });
    else if (sighting.suspicions.length > 0) leave('not believed');
    else rest.push(sighting);
  }
  const points: LightPoint[] = lamps
    .filter((lamp) => found.some((f) => f.light === lamp.id))
    .map((lamp) => ({ id: lamp.id, positionEnuM: lamp.positionEnuM, surveyedSigmaM: lamp.sigmaM }));
  const gathering = gatherDischarges(
    rest.map((sighting) => ({
      flight: seen.flight,
      sighting,
      rays: seen.rays,
      poses: seen.poses,
      errors: seen.errorsAt(middleOf(sighting)),
    })),
  );
  for (let i = 0; i < gathering.unplaced.length; i++) leave('not placed');
  for (const discharge of gathering.discharges) {
    if (discharge.sightingIds.length < 2) {
      leave('seen once only, place unknown');
      continue;
    }
    points.push({ id: discharge.id, positionEnuM: discharge.placement.positionEnuM, surveyedSigmaM: null });
    for (const sighting of rest)
      if (discharge.sightingIds.includes(sighting.id)) found.push({ sighting, light: discharge.id });
  }
  found.sort((a, b) => middleOf(a.sighting) - middleOf(b.sighting));
  const passes = passNumbers(
    seen.track,
    found.map(({ sighting }) => middleOf(sighting)),
  );
  const index = new Map(points.map((point, i) => [point.id, i]));
  return {
    points,
    leftOut,
    views: found.map(({ sighting, light }, i) => ({
      id: sighting.id,
      flight: seen.flight,
      point: index.get(light) as number,
      pass: passes[i],
      track: seen.track,
      tNs: middleOf(sighting),
      errors: seen.errorsAt(middleOf(sighting)),
      rays: uvRaysOf(sighting),
    })),
  };
}

const middleOf = (sighting: Sighting): number => (sighting.fromNs + sighting.toNs) / 2;

/** The one lamp that a sighting's place agrees with. A lamp beside the line is still a lamp. */
function lampOf(seen: SeenFlight, sighting: Sighting, lamps: readonly SurveyedLamp[]): SurveyedLamp | 'several' | null {
  if (lamps.length === 0 || sighting.suspicions.some((suspicion) => suspicion !== 'off the line')) return null;
  const placed = placeBundle(sighting, seen.rays, seen.poses, seen.errorsAt(middleOf(sighting)));
  if ('kind' in placed) return null;
  const { positionEnuM, covarianceEnuM2 } = placed.placement;
  const limit = chiSquareQuantile(1 - MISSED_PROBABILITY, 3);
  const near = lamps.filter((lamp) => {
    const m2 = lamp.sigmaM ** 2;
    const squared = squaredMahalanobis(
      subtract(positionEnuM, lamp.positionEnuM),
      addMat(covarianceEnuM2, diagonal3(m2, m2, m2)),
    );
    return squared !== null && squared < limit;
  });
  return near.length === 0 ? null : near.length === 1 ? near[0] : 'several';
}

/** Turns rays in space back into what the camera saw. */
function raysBeforeMounting({ rays, poses }: SeenFlight): (sighting: Sighting) => UvRay[] {
  const poseOf = new Map(Array.from(poses.frame, (frame, i) => [frame, i]));
  return (sighting) =>
    Array.from(sighting.rays, (ray, i): UvRay => {
      const pose = poseOf.get(rays.frame[ray]) as number;
      const along = (c: number): number => rays.originEnuM[3 * ray + c] + rays.directionEnu[3 * ray + c];
      return {
        tNs: poses.tNs[pose],
        exposureNs: poses.exposureNs[pose],
        directionUv: pointInUvM(poses, pose, [along(0), along(1), along(2)]),
        sigmaRad: rays.sigmaRad[ray],
        membership: sighting.membership[i],
      };
    }).filter((ray) => ray.membership > 0);
}

/** A turn by more than this, half way round a corner, ends a pass. */
const TURN_COSINE = 0.5;
/** Longer than this without a pose, and it is another pass. */
const GAP_S = 5;

/**
 * Numbers the passes at rising times, from 0: a pass ends where the flight turned by more than 60 degrees in between, or the
 * trajectory has a gap.
 */
export function passNumbers(track: Track, tNs: readonly number[]): number[] {
  const out: number[] = [];
  let pass = 0;
  for (let i = 0; i < tNs.length; i++) {
    if (i > 0 && turnedBetween(track, tNs[i - 1], tNs[i])) pass++;
    out.push(pass);
  }
  return out;
}

function turnedBetween(track: Track, fromNs: number, toNs: number): boolean {
  const steps = Math.max(1, Math.ceil((toNs - fromNs) / 1e9));
  const times = Array.from({ length: steps + 1 }, (_, k) => fromNs + ((toNs - fromNs) * k) / steps);
  const poses = interpolatePoses(track, times);
  let blind = 0;
  let first: Vec3 | null = null;
  for (let k = 0; k <= steps; k++) {
    if (poses.refusal[k] !== 0) {
      if (++blind > GAP_S) return true;
      continue;
    }
    blind = 0;
    const v = poses.velocityEnuMps;
    const now: Vec3 = [v[3 * k], v[3 * k + 1], v[3 * k + 2]];
    if (norm(now) < 1) continue;
    if (first && dot(first, now) < TURN_COSINE * norm(first) * norm(now)) return true;
    first ??= now;
  }
  return false;
}
