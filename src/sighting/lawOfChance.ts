import type { SearchCorridor } from './EventRays.ts';
import { extractSources, nothingExplained } from './extractSources.ts';
import { type FalseAlarmLaw, fitFalseAlarmLaw } from './falseAlarmLaw.ts';
import type { SearchScene } from './SearchScene.ts';
import { scrambleScene } from './scrambleScene.ts';

/** Chance maxima are collected from here on; from higher up where a dense background gives more of them than are needed. */
const SCRAMBLE_FLOOR = 11;
const FLOOR_PER_DENSITY = 2;
/** Copies of so many hours in all, where the background is that of a quiet camera: the threshold is then read off a decade below one an hour. */
const SCRAMBLED_HOURS = 2;
const MOST_SCRAMBLES = 200;

/** Time in flight: the sum of the steps from frame to frame, gaps of a second or more left out. */
export function hoursOf(scene: SearchScene): number {
  let ns = 0;
  for (let p = 1; p < scene.poseCount; p++) {
    const step = scene.tNs[p] - scene.tNs[p - 1];
    if (step < 1e9) ns += step;
  }
  return Math.max(ns, 1) / 3.6e12;
}

/**
 * What chance gives on this flight, from copies of it whose events are dealt out anew among the frames.
 * @param share how much of each event no source has explained, 0 to 1
 */
export function lawOfChance(
  scene: SearchScene,
  share: Float64Array,
  search: {
    readonly corridor: SearchCorridor;
    readonly seed: number;
    readonly hours: number;
    readonly scrambles?: number;
  },
): FalseAlarmLaw {
  const { hours } = search;
  const scrambles = search.scrambles ?? scramblesFor(scene, hours);
  const floor = SCRAMBLE_FLOOR + FLOOR_PER_DENSITY * Math.log(densityOf(scene));
  const ratios: number[] = [];
  for (let i = 0; i < scrambles; i++) {
    const scrambled = scrambleScene(scene, share, search.seed * 1000 + i);
    const chance = extractSources(scrambled, nothingExplained(scrambled), {
      corridor: search.corridor,
      floor,
      effort: 'weak',
    });
    for (const source of chance) ratios.push(source.logLikelihoodRatio);
  }
  return fitFalseAlarmLaw(ratios, scrambles * hours, floor);
}

/** Fewer where a dense background makes each copy dear and rich in chance maxima. */
function scramblesFor(scene: SearchScene, hours: number): number {
  const density = densityOf(scene);
  return Math.max(2, Math.min(MOST_SCRAMBLES, Math.ceil(SCRAMBLED_HOURS / hours / (density * density))));
}

/** Events a frame over those of a quiet camera, 1 at least. */
const densityOf = (scene: SearchScene): number => Math.max(1, scene.count / Math.max(1, scene.poseCount) / 8);
