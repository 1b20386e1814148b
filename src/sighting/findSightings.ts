import type { Lens } from '../camera/Lens.ts';
import type { Vec3 } from '../maths/vec3.ts';
import type { PhotonEvents } from '../photon/PhotonEvents.ts';
import type { EventRays, FramePoses, SearchCorridor } from './EventRays.ts';
import { backgroundBut, type Explanation, extractSources, nothingExplained, settle } from './extractSources.ts';
import { type FalseAlarmLaw, falseAlarmsPerHour, fitFalseAlarmLaw, thresholdFor } from './falseAlarmLaw.ts';
import type { SourceFit } from './pointSource.ts';
import { layOutScene, type SearchScene } from './SearchScene.ts';
import type { Sighting } from './Sighting.ts';
import { scrambleScene } from './scrambleScene.ts';
import { suspicionsOf } from './suspicions.ts';

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
  /** Unit vector towards the sun, where it is above the horizon. */
  readonly sunEnu?: Vec3;
  /** Scrambled copies of the flight that the threshold rests on. Default: as many as make 6 minutes, 2 to 40. */
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

/** Chance maxima are collected from here on. */
const SCRAMBLE_FLOOR = 9;
/** What is certain enough to be taken out before the threshold is known. */
const CERTAIN = 30;

/**
 * Finds the places in space from which photons came: where more rays cross than the background explains.
 * The threshold comes from the flight's own events, dealt out anew among the frames (same seed, same result).
 * Sightings are in order of time; suspicious ones are among them, with their suspicions.
 */
export function findSightings(search: SightingSearch): SightingReport {
  const scene = layOutScene(search.events, search.rays, search.poses, search.lens, search.extraSigmaPx ?? 0.3);
  const hours = hoursOf(scene);
  const explanation = nothingExplained(scene);
  extractSources(scene, explanation, { corridor: search.corridor, floor: CERTAIN });
  const law = lawOfChance(scene, explanation, search, hours);
  const threshold = thresholdFor(law, search.falseAlarmsPerHour);
  extractSources(scene, explanation, { corridor: search.corridor, floor: threshold });
  settle(scene, explanation, threshold);
  const sightings = explanation.sources
    .map((source) => sightingOf(source, scene, law, search, explanation))
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

/** Time in flight: the sum of the steps from frame to frame, gaps of a second or more left out. */
function hoursOf(scene: SearchScene): number {
  let ns = 0;
  for (let p = 1; p < scene.poseCount; p++) {
    const step = scene.tNs[p] - scene.tNs[p - 1];
    if (step < 1e9) ns += step;
  }
  return Math.max(ns, 1) / 3.6e12;
}

function lawOfChance(scene: SearchScene, found: Explanation, search: SightingSearch, hours: number): FalseAlarmLaw {
  const scrambles = search.scrambles ?? Math.max(2, Math.min(40, Math.ceil(0.1 / hours)));
  const ratios: number[] = [];
  for (let i = 0; i < scrambles; i++) {
    const scrambled = scrambleScene(scene, found.share, search.seed * 1000 + i);
    const chance = nothingExplained(scrambled);
    extractSources(scrambled, chance, { corridor: search.corridor, floor: SCRAMBLE_FLOOR });
    for (const source of chance.sources) ratios.push(source.logLikelihoodRatio);
  }
  return fitFalseAlarmLaw(ratios, scrambles * hours, SCRAMBLE_FLOOR);
}

/** Rays with less than this probability of belonging to a source are not listed with it. */
const LEAST_MEMBERSHIP = 0.05;

function sightingOf(
  source: SourceFit,
  scene: SearchScene,
  law: FalseAlarmLaw,
  search: SightingSearch,
  explanation: Explanation,
): Sighting {
  const members = Array.from(source.event, (event, i) => ({ ray: scene.ray[event], of: source.membership[i] }))
    .filter(({ of }) => of >= LEAST_MEMBERSHIP)
    .sort((a, b) => a.ray - b.ray);
  return {
    id: '',
    rays: Int32Array.from(members, ({ ray }) => ray),
    membership: Float64Array.from(members, ({ of }) => of),
    fromNs: scene.tNs[source.fromPose],
    toNs: scene.tNs[source.toPose],
    framesInView: source.framesInView,
    seedEnuM: source.pointEnuM,
    logLikelihoodRatio: source.logLikelihoodRatio,
    expectedBackground: source.expectedBackground,
    falseAlarmsPerHour: falseAlarmsPerHour(law, source.logLikelihoodRatio),
    suspicions: suspicionsOf(source, scene, search.corridor, backgroundBut(explanation, source), search.sunEnu),
  };
}
