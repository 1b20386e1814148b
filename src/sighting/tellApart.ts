import { addTo, backgroundBut, type Explanation } from './extractSources.ts';
import { fitFlux, refinePoint, type SourceFit } from './pointSource.ts';
import { projectIntoPose, type SearchScene } from './SearchScene.ts';

/** Two sources where one was found, and how much better they explain the events. */
export interface TwoForOne {
  readonly sources: readonly [SourceFit, SourceFit];
  /** Gain in ln likelihood over one wide source, less the penalty for three more numbers (half of each ln n). */
  readonly lnEvidence: number;
}

/** A source that fits as a point has no room for two. */
const LEAST_SPREAD = 1.1;
/** With fewer events the penalty cannot be overcome. */
const LEAST_EVENTS = 25;
/** Two are believed from here on: 150 to 1. */
const LEAST_EVIDENCE = 5;
/** Each of two must explain this much that the other does not, in ln likelihood. */
const LEAST_OWN = 8;
/** Position, position and flux of the second, less the width of the one. */
const MORE_NUMBERS = 3;
/** Rounds of fitting each with the other as background. */
const ROUNDS = 8;

/**
 * Whether the events of a source that is wider than a point come from two points, by penalised likelihood (Schwarz 1978): two
 * points against one Gaussian as wide as the events say, so that an extended glow is not taken for two.
 * @param background density of everything but this source at each event, per px² and frame
 */
export function tellApart(source: SourceFit, scene: SearchScene, background: Float64Array): TwoForOne | null {
  const events = source.membership.reduce((sum, m) => sum + m, 0);
  if (events < LEAST_EVENTS) return null;
  const seedPose = scene.pose[source.event[source.event.length >> 1]];
  const variance = scene.variancePx2[source.event[source.event.length >> 1]];
  const along = alongMotion(source, scene);
  if (source.spread < LEAST_SPREAD && along.spread < LEAST_SPREAD) return null;
  // Two equal points 2 a apart widen the variance along their line by a².
  const apartPx = 2 * Math.sqrt(Math.max(0.3 * variance, (source.spread - 1) * variance, along.excessPx2));
  const best = bestPair(source, scene, background, seedPose, apartPx);
  if (!best || best.sources.some((one) => one.logLikelihoodRatio < LEAST_OWN)) return null;
  const lnEvidence = best.ratio - source.logLikelihoodRatio - (MORE_NUMBERS / 2) * Math.log(events);
  return lnEvidence > LEAST_EVIDENCE ? { sources: best.sources, lnEvidence } : null;
}

interface Pair {
  readonly sources: readonly [SourceFit, SourceFit];
  /** Of both together against the background. */
  readonly ratio: number;
}

/** The best of pairs that begin `apartPx` apart in four directions about a place. */
function bestPair(
  middle: SourceFit,
  scene: SearchScene,
  background: Float64Array,
  seedPose: number,
  apartPx: number,
): Pair | null {
  let best: Pair | null = null;
  for (let direction = 0; direction < 4; direction++) {
    const angle = (direction * Math.PI) / 4;
    const offset = offsetEnuM(
      scene,
      seedPose,
      middle,
      (apartPx / 2) * Math.cos(angle),
      (apartPx / 2) * Math.sin(angle),
    );
    if (!offset) continue;
    const pair = fitPair(scene, background, middle, seedPose, offset);
    if (pair && (!best || pair.ratio > best.ratio + 1e-9)) best = pair;
  }
  return best;
}

/** Neighbours nearer than this in the image may have shared their events wrongly. */
const NEIGHBOURS_PX = 15;
/** Gain in ln likelihood from which another place for both is taken. */
const BETTER = 2;

/**
 * Two sources found one after the other can share the events of two neighbours at different places than theirs: the first
 * takes some of both. Fits both anew from places on either side of their middle, and takes that where it is likelier.
 * @param background density of everything but both
 */
export function shareFairly(
  a: SourceFit,
  b: SourceFit,
  scene: SearchScene,
  background: Float64Array,
): readonly [SourceFit, SourceFit] | null {
  const seedPose = scene.pose[a.event[a.event.length >> 1]];
  const apartPx = apartInImagePx(scene, seedPose, a, b);
  if (apartPx === null || apartPx > NEIGHBOURS_PX) return null;
  const weight = a.eventsPerFrame / (a.eventsPerFrame + b.eventsPerFrame);
  const middle = a.pointEnuM.map((x, c) => weight * x + (1 - weight) * b.pointEnuM[c]) as [number, number, number];
  const one = fitFlux(scene, background, middle, a);
  const now = jointRatio(background, a, b);
  let best: Pair | null = null;
  for (const startPx of [3, 8, 14]) {
    const pair = bestPair(one, scene, background, seedPose, startPx);
    if (pair && (!best || pair.ratio > best.ratio)) best = pair;
  }
  return best && best.ratio > now + BETTER ? best.sources : null;
}

/** Variance of a source's events along the motion of its image, over that of a smeared point, and what it exceeds that by. */
function alongMotion(source: SourceFit, scene: SearchScene): { spread: number; excessPx2: number } {
  const px = new Float64Array(2);
  const beside = new Float64Array(2);
  const [x, y, z] = source.pointEnuM;
  let weight = 0;
  let sum = 0;
  let squares = 0;
  let asPoint = 0;
  source.event.forEach((k, i) => {
    const p = scene.pose[k];
    const q = p + 1 < scene.poseCount ? p + 1 : p - 1;
    if (q < 0 || !projectIntoPose(px, scene, p, x, y, z) || !projectIntoPose(beside, scene, q, x, y, z)) return;
    const step = q - p;
    const [mx, my] = [(beside[0] - px[0]) * step, (beside[1] - px[1]) * step];
    const length = Math.hypot(mx, my);
    if (length === 0) return;
    const dt = Math.abs(scene.tNs[q] - scene.tNs[p]);
    const smear = (length * scene.exposureNs[p]) / dt;
    const along = ((scene.xPx[k] - px[0]) * mx + (scene.yPx[k] - px[1]) * my) / length;
    const w = source.membership[i];
    weight += w;
    sum += w * along;
    squares += w * along * along;
    asPoint += w * (scene.variancePx2[k] + (smear * smear) / 12);
  });
  if (weight === 0) return { spread: 1, excessPx2: 0 };
  const variance = squares / weight - (sum / weight) ** 2;
  return { spread: variance / (asPoint / weight), excessPx2: Math.max(0, variance - asPoint / weight) };
}

/** Puts sources in the place of others, in what the events are explained by. */
export function replaceBy(explanation: Explanation, old: readonly SourceFit[], sources: readonly SourceFit[]): void {
  for (const source of old) addTo(explanation, source, -1);
  for (const source of sources) addTo(explanation, source, 1);
}

/** Goes through neighbours and lets each two share their events anew; in place. */
export function shareAmongNeighbours(sources: SourceFit[], scene: SearchScene, explanation: Explanation): void {
  for (let i = 0; i < sources.length; i++)
    for (let j = i + 1; j < sources.length; j++) {
      const [a, b] = [sources[i], sources[j]];
      // Passes that have nothing in common, or a source too wide to be one of two points.
      if (a.fromPose > b.toPose || b.fromPose > a.toPose || a.event.length === 0 || b.event.length === 0) continue;
      const background = withoutBoth(explanation, a, b);
      const fair = shareFairly(a, b, scene, background);
      if (!fair) continue;
      replaceBy(explanation, [a, b], fair);
      sources[i] = fair[0];
      sources[j] = fair[1];
    }
}

function withoutBoth(explanation: Explanation, a: SourceFit, b: SourceFit): Float64Array {
  const density = backgroundBut(explanation, a);
  b.event.forEach((k, i) => {
    density[k] = Math.max(explanation.background[k], density[k] - b.eventsPerFrame * b.density[i]);
  });
  return density;
}

/** A step in the image at the place of a source, in space. */
function offsetEnuM(
  scene: SearchScene,
  pose: number,
  { pointEnuM: [x, y, z] }: SourceFit,
  duPx: number,
  dvPx: number,
): readonly [number, number, number] | null {
  const m = scene.uvFromEnu;
  const R = 9 * pose;
  const o = scene.originEnuM;
  const depthM = m[R + 6] * (x - o[3 * pose]) + m[R + 7] * (y - o[3 * pose + 1]) + m[R + 8] * (z - o[3 * pose + 2]);
  if (!(depthM > 0)) return null;
  const a = (duPx * depthM) / scene.lens.fxPx;
  const b = (dvPx * depthM) / scene.lens.fyPx;
  return [a * m[R] + b * m[R + 3], a * m[R + 1] + b * m[R + 4], a * m[R + 2] + b * m[R + 5]];
}

/** Two points, each fitted with the other as background in turn, and their joint ln likelihood ratio. */
function fitPair(
  scene: SearchScene,
  background: Float64Array,
  one: SourceFit,
  seedPose: number,
  offset: readonly [number, number, number],
): Pair | null {
  const [x, y, z] = one.pointEnuM;
  const starts = [1, -1].map((sign) => [x + sign * offset[0], y + sign * offset[1], z + sign * offset[2]] as const);
  let first = refinePoint(scene, withOther(background, half(one)), starts[0], seedPose, 1, false);
  let second = refinePoint(scene, withOther(background, first), starts[1], seedPose, 1, false);
  let last = Number.NEGATIVE_INFINITY;
  for (let round = 0; round < ROUNDS; round++) {
    first = refinePoint(scene, withOther(background, second), first.pointEnuM, seedPose, 1, false);
    second = refinePoint(scene, withOther(background, first), second.pointEnuM, seedPose, 1, false);
    const ratio = jointRatio(background, first, second);
    if (ratio < last + 0.05) break;
    last = ratio;
  }
  if (first.eventsPerFrame === 0 || second.eventsPerFrame === 0) return null;
  // Nearer than this they are one.
  if ((apartInImagePx(scene, seedPose, first, second) ?? 0) < 0.3) return null;
  return { sources: [first, second], ratio: jointRatio(background, first, second) };
}

const half = (fit: SourceFit): SourceFit => ({ ...fit, eventsPerFrame: fit.eventsPerFrame / 2 });

function withOther(background: Float64Array, other: SourceFit): Float64Array {
  const density = Float64Array.from(background);
  other.event.forEach((k, i) => {
    density[k] += other.eventsPerFrame * other.density[i];
  });
  return density;
}

/** ln likelihood ratio of both together against the background; `second` was fitted with `first` as background. */
function jointRatio(background: Float64Array, first: SourceFit, second: SourceFit): number {
  // What the first alone gains at its flux; the second's own ratio is what it adds to that.
  let gain = 0;
  let alone = 0;
  const withSecond = withOther(background, second);
  first.event.forEach((k, i) => {
    gain += Math.log1p((first.eventsPerFrame * first.density[i]) / background[k]);
    alone += Math.log1p((first.eventsPerFrame * first.density[i]) / withSecond[k]);
  });
  // Its expected number of events, from the ratio as fitted beside the second (which moved but little since).
  const expected = alone - first.logLikelihoodRatio;
  return gain - expected + second.logLikelihoodRatio;
}

function apartInImagePx(scene: SearchScene, pose: number, a: SourceFit, b: SourceFit): number | null {
  const pa = new Float64Array(2);
  const pb = new Float64Array(2);
  const seen = projectIntoPose(pa, scene, pose, ...a.pointEnuM) && projectIntoPose(pb, scene, pose, ...b.pointEnuM);
  return seen ? Math.hypot(pa[0] - pb[0], pa[1] - pb[1]) : null;
}
