import type { SearchCorridor } from './EventRays.ts';
import { type Explanation, extractSources } from './extractSources.ts';
import { refinePoint, type SourceFit } from './pointSource.ts';
import { projectIntoPose, type SearchScene } from './SearchScene.ts';

/** A source that is not a place in space: it stays in the image, or in a direction. */
export interface UnlikePlace {
  readonly kind: 'fixed in the image' | 'fixed in direction';
  readonly fit: SourceFit;
}

/** Distance, m, that stands for infinitely far: parallax of 100 m of flight is 0.1 px at a focal length of 1000 px. */
const FAR_M = 1e6;
const FAR: SearchCorridor = { segments: [], radiusM: 0, nearestM: FAR_M, farthestM: 1.0001 * FAR_M };

/** Over the time it shows, a place on the line would have moved by this much against it, px; less decides nothing. */
const LEAST_PARALLAX_PX = 12;
const LEAST_FRAMES = 6;

/**
 * Sources that stay where they are in the image (a defect, a reflection that flies with the platform) or in a fixed
 * direction (the sun's glint on a long conductor, a lamp on the horizon) while the line moves past. The same search as
 * in space, with the camera's motion, or its translation alone, taken as none. Where the platform stands still they
 * cannot be told from a discharge and are left for the search in space.
 */
export function findUnlikePlaces(
  scene: SearchScene,
  explanation: Explanation,
  corridor: SearchCorridor,
  floor: number,
): UnlikePlace[] {
  const still = new Float64Array(3 * scene.poseCount);
  const level = new Float64Array(9 * scene.poseCount);
  for (let p = 0; p < scene.poseCount; p++) for (let c = 0; c < 3; c++) level[9 * p + 4 * c] = 1;
  const turning: SearchScene = { ...scene, originEnuM: still };
  const resting: SearchScene = { ...turning, uvFromEnu: level };
  const inImage = extractSources(resting, explanation, {
    corridor: FAR,
    floor,
    effort: 'strong',
    withoutParallax: true,
    accepts: (fit) =>
      showsAgainstTheLine(fit, resting, scene, corridor) &&
      fit.logLikelihoodRatio > ratioAsDirection(fit, turning, explanation.others),
  });
  const inDirection = extractSources(turning, explanation, {
    corridor: FAR,
    floor,
    effort: 'strong',
    withoutParallax: true,
    accepts: (fit) => showsAgainstTheLine(fit, turning, scene, corridor),
  });
  return [
    ...inImage.map((fit) => ({ kind: 'fixed in the image', fit }) as const),
    ...inDirection.map((fit) => ({ kind: 'fixed in direction', fit }) as const),
  ];
}

/** What the best fixed direction makes of the events of a source that seems fixed in the image. */
function ratioAsDirection(fit: SourceFit, turning: SearchScene, others: Float64Array): number {
  let best = Number.NEGATIVE_INFINITY;
  const members = fit.event.filter((_, i) => fit.membership[i] > 0.5);
  // Three of its events as starts: any one of them may be of the background.
  for (const at of [0.3, 0.5, 0.7]) {
    const k = members[Math.floor(at * members.length)];
    const start = alongPixel(turning, turning.pose[k], turning.xPx[k], turning.yPx[k], FAR_M);
    best = Math.max(best, refinePoint(turning, others, start, turning.pose[k]).logLikelihoodRatio);
  }
  return best;
}

/** Whether it shows in enough frames, spread enough that a place on the line would have moved away from it. */
function showsAgainstTheLine(fit: SourceFit, asIf: SearchScene, scene: SearchScene, corridor: SearchCorridor): boolean {
  const poses: number[] = [];
  fit.event.forEach((k, i) => {
    if (fit.membership[i] > 0.5 && scene.pose[k] !== poses[poses.length - 1]) poses.push(scene.pose[k]);
  });
  if (poses.length < LEAST_FRAMES) return false;
  const from = poses[Math.floor(0.1 * poses.length)];
  const to = poses[Math.ceil(0.9 * poses.length) - 1];
  const middle = poses[poses.length >> 1];
  const px = new Float64Array(2);
  if (!projectIntoPose(px, asIf, middle, ...fit.pointEnuM)) return false;
  const place = alongPixel(scene, middle, px[0], px[1], Math.sqrt(corridor.nearestM * corridor.farthestM));
  const seen = new Float64Array(2);
  let parallax = 0;
  for (const p of [from, to]) {
    const ahead = projectIntoPose(seen, scene, p, ...place) && projectIntoPose(px, asIf, p, ...fit.pointEnuM);
    parallax = Math.max(parallax, ahead ? Math.hypot(seen[0] - px[0], seen[1] - px[1]) : Number.POSITIVE_INFINITY);
  }
  return parallax >= LEAST_PARALLAX_PX;
}

/** The point at a range along a pixel's ray; distortion is left aside, since only its motion matters. */
function alongPixel(scene: SearchScene, pose: number, u: number, v: number, rangeM: number): [number, number, number] {
  const { lens, uvFromEnu: m } = scene;
  const x = (u - lens.cxPx) / lens.fxPx;
  const y = (v - lens.cyPx) / lens.fyPx;
  const k = rangeM / Math.hypot(x, y, 1);
  const R = 9 * pose;
  const at = (c: number): number =>
    scene.originEnuM[3 * pose + c] + k * (x * m[R + c] + y * m[R + 3 + c] + m[R + 6 + c]);
  return [at(0), at(1), at(2)];
}

/** Where along its ray to put the mark of a source that has no place: at the middle range, from the middle of its pass. */
export function markOf(unlike: UnlikePlace, scene: SearchScene, corridor: SearchCorridor): [number, number, number] {
  const { fit } = unlike;
  const k = fit.event[fit.event.length >> 1];
  return alongPixel(
    scene,
    scene.pose[k],
    scene.xPx[k],
    scene.yPx[k],
    Math.sqrt(corridor.nearestM * corridor.farthestM),
  );
}
