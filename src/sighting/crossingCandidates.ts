import type { Vec3 } from '../maths/vec3.ts';
import type { SearchCorridor } from './EventRays.ts';
import { GAP_FRAMES } from './pointSource.ts';
import { type CorridorTubes, rangesInCorridor, tubesOf } from './rangesInCorridor.ts';
import { insideImage, projectIntoPose, type SearchScene } from './SearchScene.ts';

/** A place where the ray of one event is crossed by others. */
export interface Candidate {
  readonly pointEnuM: Vec3;
  readonly seedPose: number;
  readonly seedEvent: number;
  /** Events whose rays cross there, the seed's own included. */
  readonly crossing: number;
  /** Frames looked at that have the place in the picture, and the share of their events that were asked. */
  readonly frames: number;
  readonly asked: number;
  /** Way of the place over the image during the exposure, px. */
  readonly smearPx: number;
}

export interface CrossingSearch {
  /** Where along each event's ray to look; from `rangesOfEvents`. */
  readonly ranges: RangesOfEvents;
  /** 1 for events that may cast a vote, 0 for those already explained. */
  readonly alive: Uint8Array;
  /** Events asked to vote in each frame at most, the others passed over evenly: a strong source needs no more to be seen. */
  readonly votersPerFrame: number;
  /** Frames to each side within which crossings are looked for. */
  readonly farthestFrames: number;
  /** Fewer crossing events than this make no candidate. */
  readonly leastCrossing: number;
}

/** Nearest and farthest range of interest along each event's ray, m; worked out when first asked for. */
export interface RangesOfEvents {
  readonly tubes: CorridorTubes;
  /** NaN = not yet asked, -1 = the ray misses the corridor. */
  readonly nearM: Float64Array;
  readonly farM: Float64Array;
}

export const rangesOfEvents = (scene: SearchScene, corridor: SearchCorridor): RangesOfEvents => ({
  tubes: tubesOf(corridor),
  nearM: new Float64Array(scene.count).fill(Number.NaN),
  farM: new Float64Array(scene.count),
});

/** How many sigmas two rays may miss each other by. */
const MISS_SIGMAS = 3;

/**
 * Where, along the ray of one event, the rays of the frames around cross it most often. A position on the ray is counted
 * in inverse range w, in which the image of the ray in another frame is linear before projection:
 * direction + w (origin - origin'). Each event of another frame votes for the w at which it lies nearest, give or take
 * what its spot, the seed's and the smear of the moving scene allow.
 * @returns null where too few cross, or the ray misses the corridor
 */
export function bestCrossing(scene: SearchScene, seed: number, search: CrossingSearch): Candidate | null {
  const p = scene.pose[seed];
  const m = scene.uvFromEnu;
  const R = p * 9;
  const xs = scene.xn[seed];
  const ys = scene.yn[seed];
  const length = Math.hypot(xs, ys, 1);
  const dx = (m[R] * xs + m[R + 3] * ys + m[R + 6]) / length;
  const dy = (m[R + 1] * xs + m[R + 4] * ys + m[R + 7]) / length;
  const dz = (m[R + 2] * xs + m[R + 5] * ys + m[R + 8]) / length;
  const ox = scene.originEnuM[3 * p];
  const oy = scene.originEnuM[3 * p + 1];
  const oz = scene.originEnuM[3 * p + 2];
  const { nearM, farM, tubes } = search.ranges;
  if (Number.isNaN(nearM[seed])) {
    const found = rangesInCorridor([ox, oy, oz], [dx, dy, dz], tubes);
    nearM[seed] = found ? found.nearM : -1;
    farM[seed] = found ? found.farM : -1;
  }
  if (nearM[seed] < 0) return null;
  const w1 = 1 / farM[seed];
  const w2 = 1 / nearM[seed];
  const wMid = (w1 + w2) / 2;
  const focalPx = scene.lens.fxPx;
  const { left, right, top, bottom } = scene.field;
  const px = new Float64Array(2);

  // How far the scene moves in this image during the exposure, at both ends of the range; linear in w between.
  const smear = new Float64Array(4);
  const beside = p + 1 < scene.poseCount ? p + 1 : p - 1;
  if (beside >= 0) {
    const dt = Math.abs(scene.tNs[beside] - scene.tNs[p]);
    const during = dt > 0 && dt < 0.5e9 ? scene.exposureNs[p] / dt : 0;
    for (let end = 0; end < 2; end++) {
      const rangeM = end === 0 ? 1 / w1 : 1 / w2;
      if (!projectIntoPose(px, scene, beside, ox + dx * rangeM, oy + dy * rangeM, oz + dz * rangeM)) continue;
      smear[2 * end] = (px[0] - scene.xPx[seed]) * during;
      smear[2 * end + 1] = (px[1] - scene.yPx[seed]) * during;
    }
  }
  const smearXPerW = (smear[2] - smear[0]) / (w2 - w1);
  const smearYPerW = (smear[3] - smear[1]) / (w2 - w1);

  const mostMiss =
    MISS_SIGMAS * Math.sqrt(scene.largestVariancePx2 + scene.variancePx2[seed]) +
    Math.sqrt(Math.max(smear[0] ** 2 + smear[1] ** 2, smear[2] ** 2 + smear[3] ** 2));
  const mostMiss2 = mostMiss * mostMiss;
  const focal2 = focalPx * focalPx;
  const places: number[] = [];
  const slack: number[] = [];
  // Outwards in time, and no farther than a pass goes: what comes back after a turn is another pass.
  let q = p;
  let step = 1;
  let unseen = 0;
  for (;;) {
    q += step;
    if (q < 0 || q >= scene.poseCount || Math.abs(q - p) > search.farthestFrames || unseen > GAP_FRAMES) {
      if (step === -1) break;
      step = -1;
      q = p;
      unseen = 0;
      continue;
    }
    const first = scene.firstOfPose[q];
    const end = scene.firstOfPose[q + 1];
    unseen++;
    const Q = q * 9;
    const bx0 = ox - scene.originEnuM[3 * q];
    const by0 = oy - scene.originEnuM[3 * q + 1];
    const bz0 = oz - scene.originEnuM[3 * q + 2];
    const ax = m[Q] * dx + m[Q + 1] * dy + m[Q + 2] * dz;
    const ay = m[Q + 3] * dx + m[Q + 4] * dy + m[Q + 5] * dz;
    const az = m[Q + 6] * dx + m[Q + 7] * dy + m[Q + 8] * dz;
    const bx = m[Q] * bx0 + m[Q + 1] * by0 + m[Q + 2] * bz0;
    const by = m[Q + 3] * bx0 + m[Q + 4] * by0 + m[Q + 5] * bz0;
    const bz = m[Q + 6] * bx0 + m[Q + 7] * by0 + m[Q + 8] * bz0;
    const zMid = az + wMid * bz;
    const z1 = az + w1 * bz;
    const z2 = az + w2 * bz;
    if (!(zMid > 0 && z1 > 0 && z2 > 0)) continue;
    // Where the image of the ray in this frame lies wholly beside the picture, no event can be on it.
    const x1 = (ax + w1 * bx) / z1;
    const x2 = (ax + w2 * bx) / z2;
    if ((x1 < left && x2 < left) || (x1 > right && x2 > right)) continue;
    const y1 = (ay + w1 * by) / z1;
    const y2 = (ay + w2 * by) / z2;
    if ((y1 < top && y2 < top) || (y1 > bottom && y2 > bottom)) continue;
    unseen = 0;
    if (first === end) continue;
    const stride = Math.max(1, Math.ceil((end - first) / search.votersPerFrame));
    // Events lie in order of yn: those above and below the ray's image by more than any may miss it are passed over.
    // Half as much again, since what may miss it across and along adds up at its ends.
    const rim = ((1.5 * mostMiss) / focalPx) * (zMid / Math.min(z1, z2));
    const above = Math.min(y1, y2) - rim;
    const below = Math.max(y1, y2) + rim;
    let k = first + (stride > 1 ? (q * 7 + p) % stride : 0);
    for (let leap = (end - k) >> 1; leap >= stride; leap >>= 1) {
      const ahead = k + leap - (leap % stride);
      if (ahead < end && scene.yn[ahead] < above) k = ahead;
    }
    for (; k < end; k += stride) {
      const yn = scene.yn[k];
      if (yn > below) break;
      if (yn < above || search.alive[k] === 0) continue;
      const Ax = ax - scene.xn[k] * az;
      const Ay = ay - yn * az;
      const Bx = bx - scene.xn[k] * bz;
      const By = by - yn * bz;
      const BB = Bx * Bx + By * By;
      // Most events lie too far across the ray's image whatever their spot: told without a root.
      const cross = Ax * By - Ay * Bx;
      const z2BB = zMid * zMid * BB;
      if (cross * cross * focal2 > mostMiss2 * z2BB && BB * focal2 * (w2 - w1) * (w2 - w1) >= zMid * zMid) continue;
      const sigma = MISS_SIGMAS * Math.sqrt(scene.variancePx2[k] + scene.variancePx2[seed]);
      // Across the ray's image first: most events fail here.
      const B = Math.sqrt(BB);
      const pixelsPerW = (focalPx * B) / zMid;
      if (pixelsPerW * (w2 - w1) < 1) {
        // No parallax to speak of: the event either lies at the place or does not.
        const missX = ((Ax + wMid * Bx) / zMid) * focalPx;
        const missY = ((Ay + wMid * By) / zMid) * focalPx;
        if (Math.hypot(missX, missY) > sigma + Math.hypot(smear[0], smear[1])) continue;
        places.push(wMid);
        slack.push(w2 - w1);
        continue;
      }
      const ux = Bx / B;
      const uy = By / B;
      const across = (Math.abs(Ax * uy - Ay * ux) / zMid) * focalPx;
      const w = Math.max(w1, Math.min(w2, -(Ax * Bx + Ay * By) / BB));
      const smearX = smear[0] + (w - w1) * smearXPerW;
      const smearY = smear[1] + (w - w1) * smearYPerW;
      if (across > sigma + Math.abs(smearX * uy - smearY * ux)) continue;
      const give = (sigma + Math.abs(smearX * ux + smearY * uy)) / pixelsPerW;
      if (Math.abs(w * BB + Ax * Bx + Ay * By) > give * BB) continue;
      places.push(w);
      slack.push(give);
    }
  }
  if (places.length + 1 < search.leastCrossing) return null;
  const w = densestPlace(places, slack, search.leastCrossing - 1);
  if (!w) return null;
  const range = 1 / w.at;
  const pointEnuM = [ox + dx * range, oy + dy * range, oz + dz * range] as const;
  return {
    pointEnuM,
    seedPose: p,
    seedEvent: seed,
    crossing: w.votes + 1,
    ...lookedAt(scene, pointEnuM, p, search),
    smearPx: Math.hypot(smear[0] + (w.at - w1) * smearXPerW, smear[1] + (w.at - w1) * smearYPerW),
  };
}

/** In how many of the frames looked at a place is in view, and what share of their events was asked to vote. */
function lookedAt(
  scene: SearchScene,
  [x, y, z]: Vec3,
  pose: number,
  search: CrossingSearch,
): { frames: number; asked: number } {
  const px = new Float64Array(2);
  const to = Math.min(scene.poseCount - 1, pose + search.farthestFrames);
  let frames = 0;
  let present = 0;
  let asked = 0;
  for (let q = Math.max(0, pose - search.farthestFrames); q <= to; q++) {
    if (!projectIntoPose(px, scene, q, x, y, z) || !insideImage(scene.lens, px[0], px[1])) continue;
    frames++;
    const events = scene.firstOfPose[q + 1] - scene.firstOfPose[q];
    present += events;
    asked += events / Math.max(1, Math.ceil(events / search.votersPerFrame));
  }
  return { frames: Math.max(1, frames), asked: present > 0 ? asked / present : 1 };
}

/** The place covered by most of the intervals [place - slack, place + slack]: the middle of the first such stretch. */
function densestPlace(
  places: readonly number[],
  slack: readonly number[],
  leastVotes: number,
): { at: number; votes: number } | null {
  const n = places.length;
  const ends = new Float64Array(2 * n);
  const order = new Int32Array(2 * n);
  for (let i = 0; i < n; i++) {
    ends[2 * i] = places[i] - slack[i];
    ends[2 * i + 1] = places[i] + slack[i];
    order[2 * i] = 2 * i;
    order[2 * i + 1] = 2 * i + 1;
  }
  order.sort((a, b) => ends[a] - ends[b] || a - b);
  let open = 0;
  let most = 0;
  let from = 0;
  let to = 0;
  for (let i = 0; i < 2 * n; i++) {
    if (order[i] % 2 === 0) {
      open++;
      if (open > most) {
        most = open;
        from = ends[order[i]];
        to = ends[order[i + 1]];
      }
    } else open--;
  }
  if (most < leastVotes) return null;
  // Within the stretch, the mean of those who vote for it, the sharp votes counting more.
  const middle = (from + to) / 2;
  let sum = 0;
  let weights = 0;
  for (let i = 0; i < n; i++) {
    if (Math.abs(places[i] - middle) > slack[i]) continue;
    const weight = 1 / (slack[i] * slack[i]);
    sum += weight * places[i];
    weights += weight;
  }
  return { at: weights > 0 ? sum / weights : middle, votes: most };
}
