import type { Lens } from '../camera/Lens.ts';
import { add, distance, scale, subtract, unit, type Vec3 } from '../maths/vec3.ts';
import type { PhotonEvents } from '../photon/PhotonEvents.ts';
import type { EventRays, FramePoses, SearchCorridor } from './EventRays.ts';
import { backgroundBut, extractSources, nothingExplained, settle } from './extractSources.ts';
import { type FalseAlarmLaw, falseAlarmsPerHour, lawThrough, thresholdFor } from './falseAlarmLaw.ts';
import { framesOf } from './framesOf.ts';
import { hoursOf, lawOfChance } from './lawOfChance.ts';
import { mergeMoving } from './mergeMoving.ts';
import { fitFlux, passOf, refinePoint, type SourceFit } from './pointSource.ts';
import { distanceFromCorridorM, rangesInCorridor, tubesOf } from './rangesInCorridor.ts';
import { layOutScene, type SearchScene } from './SearchScene.ts';
import type { Sighting, Suspicion } from './Sighting.ts';
import { isNearSun, type SunAt } from './sunNearView.ts';
import { suspicionsOf } from './suspicions.ts';
import { replaceBy, shareAmongNeighbours, tellApart } from './tellApart.ts';
import { findUnlikePlaces, markOf, type UnlikePlace } from './unlikePlaces.ts';

export interface SightingSearch {
  readonly events: PhotonEvents;
  readonly rays: EventRays;
  readonly poses: FramePoses;
  readonly lens: Lens;
  readonly corridor: SearchCorridor;
  /** How many sightings chance may give in an hour of flight. */
  readonly falseAlarmsPerHour: number;
  readonly seed: number;
  /** Added to each ray's own error: attitude and position within a pass. Default 0.3 px. */
  readonly extraSigmaPx?: number;
  readonly sunAt?: SunAt;
  /**
   * Takes this ln likelihood ratio as threshold instead of measuring one: for a short piece of a flight whose threshold
   * is known. The law reported is then that of a single exponential through it.
   */
  readonly atLeastRatio?: number;
  /** Scrambled copies of the flight that the threshold rests on. Default: as many as make two hours, 2 to 200. */
  readonly scrambles?: number;
}

export interface SightingReport {
  readonly sightings: readonly Sighting[];
  readonly searched: {
    /** Events that took part: photons with a ray. */
    readonly events: number;
    readonly hours: number;
    /** ln likelihood ratio that a sighting must reach. */
    readonly threshold: number;
    /** Places that chance could have used in an hour: the rate of the law carried back to a ratio of 0. */
    readonly trialsPerHour: number;
    readonly law: FalseAlarmLaw;
  };
}

/** What is certain enough to be taken out before the threshold is known. */
const CERTAIN = 30;
/** Beyond the corridor sources are looked for up to this many times its farthest range: vehicles and lamps behind the line. */
const OFF_LINE_REACH = 3;

/**
 * Finds the places in space from which photons came: where more rays cross than the background explains.
 * The threshold comes from the flight's own events, dealt out anew among the frames (same seed, same result).
 * Sightings are in order of time; suspicious ones are among them, with their suspicions.
 */
export function findSightings(search: SightingSearch): SightingReport {
  const scene = layOutScene(search.events, search.rays, search.poses, search.lens, search.extraSigmaPx ?? 0.3);
  const { corridor } = search;
  const hours = hoursOf(scene);
  const explanation = nothingExplained(scene);
  const lasting = (fit: SourceFit): boolean => showsForLong(fit, scene);
  // What is certain goes first, from the likeliest explanation to the least, so that it neither feigns weak sources
  // elsewhere nor weighs on the threshold.
  const onLine = extractSources(scene, explanation, { corridor, floor: CERTAIN, accepts: lasting, effort: 'strong' });
  const unlike = findUnlikePlaces(scene, explanation, corridor, CERTAIN);
  const offLine = extractSources(scene, explanation, {
    corridor: { ...corridor, segments: [], farthestM: OFF_LINE_REACH * corridor.farthestM },
    floor: CERTAIN,
    accepts: lasting,
    effort: 'strong',
  });
  const law =
    search.atLeastRatio === undefined
      ? lawOfChance(scene, explanation.share, { ...search, hours })
      : lawThrough(search.atLeastRatio, search.falseAlarmsPerHour);
  const threshold = thresholdFor(law, search.falseAlarmsPerHour);
  onLine.push(...extractSources(scene, explanation, { corridor, floor: threshold }));
  const found = settle(scene, explanation, [...onLine, ...offLine], threshold);
  shareAmongNeighbours(found, scene, explanation);
  const settled = settle(scene, explanation, found, threshold).flatMap((source) => {
    const two = tellApart(source, scene, backgroundBut(explanation, source));
    if (two) replaceBy(explanation, [source], two.sources);
    return (two?.sources ?? [source]).map((one) => ({
      source: broughtToLine(one, scene, backgroundBut(explanation, one), corridor),
      oneOfTwo: two ? { lnEvidence: two.lnEvidence } : undefined,
    }));
  });
  const inSpace = settled.map(({ source, oneOfTwo }) => {
    const others = backgroundBut(explanation, source);
    return {
      ...sightingOf(source, scene, law, explanation.background),
      suspicions: suspicionsOf(source, scene, corridor, others, search.sunAt),
      extent: extentOf(source, scene, others),
      oneOfTwo,
    };
  });
  const sightings = [
    ...mergeMoving(inSpace, scene),
    ...unlike.map((source) => ({
      ...sightingOf(source.fit, scene, law, explanation.background),
      seedEnuM: markOf(source, scene, corridor),
      suspicions: [whyUnlike(source, scene, search.sunAt)],
    })),
  ]
    .sort((a, b) => a.fromNs - b.fromNs || a.toNs - b.toNs || a.rays[0] - b.rays[0])
    .map((sighting, i) => ({ ...sighting, id: `sighting-${String(i + 1).padStart(4, '0')}` }));
  return {
    sightings,
    searched: {
      events: scene.count,
      hours,
      threshold,
      trialsPerHour: law.perHour * Math.exp(law.slope * law.from),
      law,
    },
  };
}

function whyUnlike({ kind, fit }: UnlikePlace, scene: SearchScene, sunAt: SunAt | undefined): Suspicion {
  if (kind === 'fixed in the image') return kind;
  if (!sunAt?.(scene.tNs[fit.fromPose])) return 'off the line';
  return isNearSun(fit, scene, sunAt) ? 'sun near the view' : 'sun glint';
}

/** From this gain in ln likelihood on a width is believed: 150 to 1. */
const LEAST_EVIDENCE = 5;

/** Width of a source beyond a point's, if the events say so. */
function extentOf(source: SourceFit, scene: SearchScene, others: Float64Array): Sighting['extent'] {
  if (source.spread <= 1) return undefined;
  const k = source.event[source.event.length >> 1];
  const asPoint = refinePoint(scene, others, source.pointEnuM, scene.pose[k], 1, false);
  const lnEvidence = source.logLikelihoodRatio - asPoint.logLikelihoodRatio;
  if (lnEvidence < LEAST_EVIDENCE) return undefined;
  const o = 3 * scene.pose[k];
  const origin: Vec3 = [scene.originEnuM[o], scene.originEnuM[o + 1], scene.originEnuM[o + 2]];
  const sigmaPx = Math.sqrt((source.spread - 1) * scene.variancePx2[k]);
  return { sigmaM: (sigmaPx * distance(source.pointEnuM, origin)) / scene.lens.fxPx, lnEvidence };
}

/** A place may go this much in ln likelihood below the best and still be as good: two standard deviations. */
const AS_GOOD = 2;

/**
 * Where the rays leave the range open, the best place may lie off the line by chance. If the nearest place inside the
 * corridor, along the ray from the middle of the pass, explains the events as well, that is the one meant.
 */
function broughtToLine(
  source: SourceFit,
  scene: SearchScene,
  background: Float64Array,
  corridor: SearchCorridor,
): SourceFit {
  if (corridor.segments.length === 0 || distanceFromCorridorM(source.pointEnuM, corridor) <= corridor.radiusM)
    return source;
  const pose = scene.pose[source.event[source.event.length >> 1]];
  const origin: Vec3 = [scene.originEnuM[3 * pose], scene.originEnuM[3 * pose + 1], scene.originEnuM[3 * pose + 2]];
  const rangeM = distance(source.pointEnuM, origin);
  const direction = unit(subtract(source.pointEnuM, origin));
  const inside = rangesInCorridor(origin, direction, tubesOf(corridor));
  if (!inside) return source;
  const depth = inside.farM - inside.nearM;
  const target = Math.max(inside.nearM + 0.05 * depth, Math.min(inside.farM - 0.05 * depth, rangeM));
  const there = add(origin, scale(direction, target));
  const fit = fitFlux(scene, background, there, passOf(scene, there, pose), source.spread);
  return fit.logLikelihoodRatio > source.logLikelihoodRatio - AS_GOOD ? fit : source;
}

/** Tells sources that show in several frames, no two of which have most of it: what passes in a flash waits its turn. */
function showsForLong(fit: SourceFit, scene: SearchScene): boolean {
  const { frames, mostInTwo, events } = framesOf(fit, scene);
  return frames >= 5 && mostInTwo < 0.5 * events;
}

/** Rays with less than this probability of belonging to a source are not listed with it. */
const LEAST_MEMBERSHIP = 0.05;

function sightingOf(
  source: SourceFit,
  scene: SearchScene,
  law: FalseAlarmLaw,
  background: Float64Array,
): Omit<Sighting, 'suspicions'> {
  const members = Array.from(source.event, (event, i) => ({ ray: scene.ray[event], of: source.membership[i] }))
    .filter(({ of }) => of >= LEAST_MEMBERSHIP)
    .sort((a, b) => a.ray - b.ray);
  const meanBackground = source.event.reduce((sum, k) => sum + background[k], 0) / source.event.length;
  return {
    id: '',
    rays: Int32Array.from(members, ({ ray }) => ray),
    membership: Float64Array.from(members, ({ of }) => of),
    fromNs: scene.tNs[source.fromPose],
    toNs: scene.tNs[source.toPose],
    framesInView: source.framesInView,
    seedEnuM: source.pointEnuM,
    logLikelihoodRatio: source.logLikelihoodRatio,
    expectedBackground: meanBackground * source.aperturePx2Frames,
    falseAlarmsPerHour: falseAlarmsPerHour(law, source.logLikelihoodRatio),
  };
}
