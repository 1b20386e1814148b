import { distance, type Vec3 } from '../maths/vec3.ts';
import { bestCrossing, type Candidate, rangesOfEvents } from './crossingCandidates.ts';
import { crossingDirection, directionCells } from './crossingDirections.ts';
import type { SearchCorridor } from './EventRays.ts';
import { backgroundAtEvents } from './localBackground.ts';
import { fitFlux, passOf, refinePoint, type SourceFit } from './pointSource.ts';
import { insideImage, projectIntoPose, type SearchScene } from './SearchScene.ts';

/** What the sources found so far make of the events: the state of a greedy explanation. */
export interface Explanation {
  /** Density of all sources together at each event, per px² and frame. */
  readonly explained: Float64Array;
  /** Probability that an event is of the background. */
  readonly share: Float64Array;
  /** 1 for events that still seek a source. */
  readonly alive: Uint8Array;
  /** Density of the background at each event, per px² and frame; estimated anew as sources are found. */
  background: Float64Array;
  /** `background` and `explained` together: what a new source has to stand out from. */
  readonly others: Float64Array;
}

export interface Extraction {
  readonly corridor: SearchCorridor;
  /** Sources with a smaller ln likelihood ratio are not taken. */
  readonly floor: number;
  /** Sources it refuses are not taken either. Default: takes all. */
  readonly accepts?: (fit: SourceFit) => boolean;
  /**
   * 'full': all rounds. 'strong': without the last, for what needs no last vote. 'weak': the last alone, once, where
   * nothing strong is left. Default 'full'.
   */
  readonly effort?: 'full' | 'strong' | 'weak';
  /** The camera of this scene stays at one place: only directions can agree. Default false. */
  readonly withoutParallax?: boolean;
}

export function nothingExplained(scene: SearchScene): Explanation {
  const share = new Float64Array(scene.count).fill(1);
  const background = backgroundAtEvents(scene, share);
  return {
    explained: new Float64Array(scene.count),
    share,
    alive: new Uint8Array(scene.count).fill(1),
    background,
    others: Float64Array.from(background),
  };
}

/** Fewer rays than this crossing in one place can never reach a threshold of practical use. */
const LEAST_CROSSING = 4;
const LEAST_CROSSING_STRONG = 6;
/** An event belongs to a source, and seeks no other, from this membership on. */
const EXPLAINED_FROM = 0.5;
/**
 * Voters and seeds in each frame at most, round by round, and of how many events in a row one is a seed. Strong sources show at once among few voters and take their
 * events with them, so that the last round, where all events vote, meets little but background. There every second event
 * is a seed: a source near the threshold has eight or more, each of which finds it.
 */
const ROUNDS = [
  { votersPerFrame: 3, seedsPerFrame: 0.5, oneIn: 1 },
  { votersPerFrame: 12, seedsPerFrame: 2, oneIn: 1 },
  { votersPerFrame: 200, seedsPerFrame: 200, oneIn: 2 },
] as const;

const REPEATS = 3;

/** Frames to a side within which crossings are looked for, at most. */
const MOST_FRAMES_ACROSS = 300;

type Crossing = Pick<Candidate, 'pointEnuM' | 'seedPose' | 'seedEvent' | 'crossing'>;

/**
 * Finds sources one after the other, strongest first, and takes what they explain out of the search; ends when no place
 * reaches the floor. Adds what they explain to `explanation`, and returns them.
 */
export function extractSources(scene: SearchScene, explanation: Explanation, extraction: Extraction): SourceFit[] {
  const reach = framesAcross(scene, extraction.corridor);
  const ranges = rangesOfEvents(scene, extraction.corridor);
  const cells = extraction.withoutParallax ? directionCells(scene) : null;
  const effort = extraction.effort ?? 'full';
  const rounds = effort === 'full' ? ROUNDS : effort === 'strong' ? ROUNDS.slice(0, -1) : ROUNDS.slice(-1);
  const sources: SourceFit[] = [];
  for (const round of rounds) {
    for (let repeat = 0; repeat < (effort === 'weak' ? 1 : REPEATS); repeat++) {
      const before = sources.length;
      const candidates: Crossing[] = [];
      for (let p = 0; p < scene.poseCount; p++) {
        const first = scene.firstOfPose[p];
        const end = scene.firstOfPose[p + 1];
        // Half a seed a frame means one in every second frame.
        if (round.seedsPerFrame < 1 && p % Math.round(1 / round.seedsPerFrame) !== repeat % 2) continue;
        const stride = Math.max(1, Math.ceil((end - first) / Math.max(1, round.seedsPerFrame)));
        for (let k = first + (stride > 1 ? (p * 5 + repeat * 3) % stride : 0); k < end; k += stride) {
          if (explanation.alive[k] === 0 || (k + repeat) % round.oneIn !== 0) continue;
          const search = {
            ranges,
            alive: explanation.alive,
            votersPerFrame: round.votersPerFrame,
            farthestFrames: reach[p],
            leastCrossing: effort === 'strong' ? LEAST_CROSSING_STRONG : LEAST_CROSSING,
          };
          if (cells) {
            const candidate = crossingDirection(scene, k, search, cells, extraction.corridor.nearestM);
            if (candidate) candidates.push(candidate);
            continue;
          }
          const candidate = bestCrossing(scene, k, search);
          // A pass that is longer than was looked at may hold more than was counted.
          if (
            candidate &&
            (reach[p] >= MOST_FRAMES_ACROSS ||
              mayReach(extraction.floor, candidate, scene.variancePx2[k], explanation.others[k]))
          )
            candidates.push(candidate);
        }
      }
      candidates.sort((a, b) => b.crossing - a.crossing || a.seedEvent - b.seedEvent);
      // Each event of a crossing brings it up once more: what failed for the first need not be tried for the rest.
      const failed = new Map<number, Vec3>();
      for (const candidate of candidates) {
        if (explanation.alive[candidate.seedEvent] === 0) continue;
        const before = failed.get(candidate.seedEvent);
        if (before && isSamePlace(scene, candidate, before)) continue;
        const fit = refineAgainst(
          scene,
          explanation,
          candidate.pointEnuM,
          candidate.seedPose,
          HOPELESS * extraction.floor,
        );
        if (fit.logLikelihoodRatio < extraction.floor || extraction.accepts?.(fit) === false) {
          fit.event.forEach((k, i) => {
            if (fit.membership[i] > EXPLAINED_FROM) failed.set(k, fit.pointEnuM);
          });
          continue;
        }
        sources.push(fit);
        addTo(explanation, fit, 1);
      }
      if (sources.length === before) break;
      estimateBackground(scene, explanation);
    }
  }
  return sources;
}

/** Places on one ray nearer than this share of the range are one: less than votes leave open. */
const SAME_PLACE = 0.05;

function isSamePlace(scene: SearchScene, { pointEnuM, seedPose }: Crossing, before: Vec3): boolean {
  const o = scene.originEnuM.subarray(3 * seedPose, 3 * seedPose + 3);
  return distance(pointEnuM, before) < SAME_PLACE * distance(pointEnuM, [o[0], o[1], o[2]]);
}

/** Share of the floor that a place must have once it is roughly refined: the last steps add a fifth at most. */
const HOPELESS = 0.4;

/** Allowance for what votes about a seed's own ray miss of the place that the refinement finds. */
const GENEROUS = 1.1;

/**
 * Whether a crossing can become a source of this ratio at all: if each of its events lay in the very middle of the source,
 * n ln(1 + n s / (F b)) - n, with s the density there, b the background's, F the frames.
 */
function mayReach(floor: number, at: Candidate, variancePx2: number, background: number): boolean {
  const events = at.crossing / at.asked;
  const acrossPx = Math.sqrt(2 * Math.PI * variancePx2);
  const peak = 1 / (acrossPx * Math.max(acrossPx, at.smearPx));
  return GENEROUS * events * (Math.log1p((events * peak) / (at.frames * background)) - 1) > floor;
}

function estimateBackground(scene: SearchScene, explanation: Explanation): void {
  explanation.background = backgroundAtEvents(scene, explanation.share);
  for (let k = 0; k < scene.count; k++) explanation.others[k] = explanation.background[k] + explanation.explained[k];
}

/** Total density of everything but one source that is part of the explanation. */
export function backgroundBut(explanation: Explanation, source: SourceFit): Float64Array {
  const density = Float64Array.from(explanation.others);
  source.event.forEach((k, i) => {
    density[k] = Math.max(explanation.background[k], density[k] - source.eventsPerFrame * source.density[i]);
  });
  return density;
}

/** Refines a place, and where it holds many events lets the source be as wide as they say. */
function refineAgainst(
  scene: SearchScene,
  explanation: Explanation,
  point: Vec3,
  seedPose: number,
  hopeless: number,
): SourceFit {
  const { others } = explanation;
  let fit = refinePoint(scene, others, point, seedPose, 1, true, hopeless);
  if (fit.logLikelihoodRatio > 60) {
    for (let i = 0; i < 3; i++) {
      const spread = measuredSpread(scene, fit);
      if (Math.abs(spread / fit.spread - 1) < 0.1) break;
      const wider = refinePoint(scene, others, fit.pointEnuM, seedPose, spread, false);
      if (wider.logLikelihoodRatio <= fit.logLikelihoodRatio) break;
      fit = wider;
    }
  }
  return fit;
}

/** Variance of a source's events across its track over that of a point, 1 at least. */
function measuredSpread(scene: SearchScene, fit: SourceFit): number {
  const px = new Float64Array(2);
  const beside = new Float64Array(2);
  const [x, y, z] = fit.pointEnuM;
  let sum = 0;
  let weight = 0;
  fit.event.forEach((k, i) => {
    const p = scene.pose[k];
    const q = p + 1 < scene.poseCount ? p + 1 : p - 1;
    if (!projectIntoPose(px, scene, p, x, y, z) || q < 0 || !projectIntoPose(beside, scene, q, x, y, z)) return;
    const length = Math.hypot(beside[0] - px[0], beside[1] - px[1]);
    const [ex, ey] = length > 0 ? [(beside[0] - px[0]) / length, (beside[1] - px[1]) / length] : [1, 0];
    const across = (scene.yPx[k] - px[1]) * ex - (scene.xPx[k] - px[0]) * ey;
    const ratio = (across * across) / scene.variancePx2[k];
    // Events in the wide rim say nothing of the core.
    if (ratio > 9 * fit.spread) return;
    sum += fit.membership[i] * ratio;
    weight += fit.membership[i];
  });
  return weight > 0 ? Math.max(1, (sum / weight) * 1.03) : 1; // 1.03: what the cut at three sigmas takes away
}

/** Adds a source to the explanation, or takes it away. */
export function addTo(explanation: Explanation, fit: SourceFit, sign: 1 | -1): void {
  for (let i = 0; i < fit.event.length; i++) {
    const k = fit.event[i];
    explanation.explained[k] = Math.max(0, explanation.explained[k] + sign * fit.eventsPerFrame * fit.density[i]);
    const { explained, background } = explanation;
    explanation.others[k] = background[k] + explained[k];
    explanation.share[k] = background[k] / (background[k] + explained[k]);
    explanation.alive[k] = explanation.share[k] > 1 - EXPLAINED_FROM ? 1 : 0;
  }
}

/**
 * Fits each of the found sources again with all others as part of its background, so that neighbours share events fairly; sources
 * that fall below the floor then are given up, the weakest first. Where two were one, the second falls.
 */
export function settle(
  scene: SearchScene,
  explanation: Explanation,
  found: readonly SourceFit[],
  floor: number,
): SourceFit[] {
  const sources = [...found];
  for (let sweep = 0; sweep < 2; sweep++) {
    estimateBackground(scene, explanation);
    for (let s = 0; s < sources.length; s++) {
      const old = sources[s];
      addTo(explanation, old, -1);
      const { others } = explanation;
      const seedPose = old.event.length > 0 ? scene.pose[old.event[old.event.length >> 1]] : old.fromPose;
      const refined = refinePoint(scene, others, old.pointEnuM, seedPose, old.spread, false);
      const asWas = fitFlux(scene, others, old.pointEnuM, passOf(scene, old.pointEnuM, seedPose), old.spread);
      const fit = refined.logLikelihoodRatio >= asWas.logLikelihoodRatio ? refined : asWas;
      sources[s] = fit;
      if (fit.logLikelihoodRatio >= floor) addTo(explanation, fit, 1);
      else sources.splice(s--, 1);
    }
  }
  return sources;
}

/** For each pose, how many frames to a side a place in its middle stays in view: where crossings can be. */
function framesAcross(scene: SearchScene, corridor: SearchCorridor): Int32Array {
  const LEAST = 25;
  const STEP = 25;
  const reach = new Int32Array(scene.poseCount);
  const px = new Float64Array(2);
  const m = scene.uvFromEnu;
  const farM = Math.min(corridor.farthestM, 2 * Math.sqrt(corridor.nearestM * corridor.farthestM));
  for (let p = 0; p < scene.poseCount; p += STEP) {
    const O = 3 * p;
    const point = [0, 1, 2].map((c) => scene.originEnuM[O + c] + farM * m[9 * p + 6 + c]);
    let frames = 0;
    for (const step of [-1, 1]) {
      for (let q = p + step; q >= 0 && q < scene.poseCount && Math.abs(q - p) <= MOST_FRAMES_ACROSS; q += step) {
        if (!projectIntoPose(px, scene, q, point[0], point[1], point[2])) break;
        if (!insideImage(scene.lens, px[0], px[1])) break;
        frames = Math.max(frames, Math.abs(q - p));
      }
    }
    // From the middle to the rim is half the way across.
    reach.fill(Math.max(LEAST, Math.min(MOST_FRAMES_ACROSS, 2 * frames)), p, Math.min(scene.poseCount, p + STEP));
  }
  return reach;
}
