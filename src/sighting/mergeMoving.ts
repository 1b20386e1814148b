import { projectIntoPose, type SearchScene } from './SearchScene.ts';
import type { Sighting } from './Sighting.ts';

/** Events of two pieces this near in time, and in the image beside the motion of a place at rest, are of one thing on its way. */
const NEAR_FRAMES = 15;
const NEAR_PX = 20;
/** Pairs of events that near, at least, and as a share of the smaller piece. */
const LEAST_PAIRS = 2;
const LEAST_SHARE = 0.05;

/**
 * Makes one of suspicious sightings that are pieces of one moving thing: a lamp on a road fits no place at rest, so several
 * places share its events one after the other. Pieces join where their events follow each other in the image. Sightings that
 * are not said to move are left as they are.
 */
export function mergeMoving(sightings: readonly Sighting[], scene: SearchScene): Sighting[] {
  const rowOfRay = new Map<number, number>();
  scene.ray.forEach((ray, row) => {
    rowOfRay.set(ray, row);
  });
  const rest = sightings.filter((sighting) => !sighting.suspicions.includes('moves in space'));
  const groups: Sighting[] = [];
  for (const piece of sightings.filter((sighting) => sighting.suspicions.includes('moves in space'))) {
    let whole = piece;
    // What the new piece joins may join each other through it.
    for (let i = groups.length - 1; i >= 0; i--) {
      if (!follows(groups[i], whole, scene, rowOfRay)) continue;
      whole = joined(groups[i], whole);
      groups.splice(i, 1);
    }
    groups.push(whole);
  }
  return [...rest, ...groups].sort((a, b) => a.fromNs - b.fromNs || a.toNs - b.toNs || a.rays[0] - b.rays[0]);
}

/** Rows of the scene that are more likely of the sighting than not. */
const rowsOf = (sighting: Sighting, rowOfRay: ReadonlyMap<number, number>): number[] =>
  Array.from(sighting.rays).flatMap((ray, i) => (sighting.membership[i] > 0.5 ? (rowOfRay.get(ray) ?? []) : []));

function follows(a: Sighting, b: Sighting, scene: SearchScene, rowOfRay: ReadonlyMap<number, number>): boolean {
  if (a.fromNs > b.toNs || b.fromNs > a.toNs) return false;
  const ofA = besidePlace(rowsOf(a, rowOfRay), a, scene);
  const ofB = besidePlace(rowsOf(b, rowOfRay), a, scene);
  let pairs = 0;
  let from = 0;
  for (const one of ofA) {
    while (from < ofB.length && ofB[from].pose < one.pose - NEAR_FRAMES) from++;
    for (let j = from; j < ofB.length && ofB[j].pose <= one.pose + NEAR_FRAMES; j++)
      if (Math.hypot(one.u - ofB[j].u, one.v - ofB[j].v) < NEAR_PX) pairs++;
  }
  return pairs >= Math.max(LEAST_PAIRS, LEAST_SHARE * Math.min(ofA.length, ofB.length));
}

/** Events against the way that the place of a sighting takes through the image. */
function besidePlace(
  rows: readonly number[],
  { seedEnuM: [x, y, z] }: Sighting,
  scene: SearchScene,
): { pose: number; u: number; v: number }[] {
  const px = new Float64Array(2);
  return rows.flatMap((k) =>
    projectIntoPose(px, scene, scene.pose[k], x, y, z)
      ? [{ pose: scene.pose[k], u: scene.xPx[k] - px[0], v: scene.yPx[k] - px[1] }]
      : [],
  );
}

/** The stronger piece says where; rays, ratio and doubts of both are kept. */
function joined(a: Sighting, b: Sighting): Sighting {
  const main = a.logLikelihoodRatio >= b.logLikelihoodRatio ? a : b;
  const membership = new Map<number, number>();
  for (const piece of [a, b])
    piece.rays.forEach((ray, i) => {
      membership.set(ray, Math.min(1, (membership.get(ray) ?? 0) + piece.membership[i]));
    });
  const rays = Int32Array.from(membership.keys()).sort();
  return {
    ...main,
    rays,
    membership: Float64Array.from(rays, (ray) => membership.get(ray) ?? 0),
    fromNs: Math.min(a.fromNs, b.fromNs),
    toNs: Math.max(a.toNs, b.toNs),
    framesInView: Math.max(a.framesInView, b.framesInView),
    logLikelihoodRatio: a.logLikelihoodRatio + b.logLikelihoodRatio,
    falseAlarmsPerHour: Math.min(a.falseAlarmsPerHour, b.falseAlarmsPerHour),
    suspicions: [...new Set([...main.suspicions, ...a.suspicions, ...b.suspicions])],
  };
}
