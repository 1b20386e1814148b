import type { Lens } from '../camera/Lens.ts';
import { uvPx } from '../camera/pixel.ts';
import { undistort } from '../camera/rayFromPixel.ts';
import { invert, type Mat3, multiplyVec } from '../maths/mat3.ts';
import { dot, scale, subtract, unit, type Vec3 } from '../maths/vec3.ts';
import type { Mounting } from '../rig/Mounting.ts';
import { interpolatePoses } from '../trajectory/interpolatePose.ts';
import type { Track } from '../trajectory/Track.ts';
import type { GlowTrack } from './glowTracks.ts';

/**
 * What the motion of glows through the image says of the clocks. `offsetS` is what has to be added to a camera stamp to read
 * the trajectory at the same instant, beyond the mounting's own.
 */
export type ClockFromGlows =
  | { readonly kind: 'agrees'; readonly tracks: number; readonly rmsPx: number }
  | {
      readonly kind: 'offset';
      readonly offsetS: number;
      readonly sigmaS: number;
      readonly tracks: number;
      /** Scatter of the rays about a point at rest, as given and with the offset. */
      readonly givenRmsPx: number;
      readonly rmsPx: number;
    }
  | { readonly kind: 'not told'; readonly because: 'no bright source' | 'the flight is too steady' }
  | {
      readonly kind: 'no offset fits';
      readonly tracks: number;
      readonly givenRmsPx: number;
      readonly bestRmsPx: number;
    };

const REACH_S = 45;
const COARSE_S = 0.04;
const FINE_S = 0.002;
const MOST_TRACKS = 16;
const POINTS = 24;
/** A source on the line is neither nearer nor farther than this. */
const NEAREST_M = 3;
const FARTHEST_M = 400;
/** Scatter beyond this is as bad as any. */
const WORST_PX = 25;
/** A clock that is right leaves so much: blur, spots, the aircraft between rows. */
const SOUND_PX = 4;
/** Of the bright glows so many are at rest: vehicles, glints and lamps in motion are among them. */
const AT_REST_SHARE = 0.6;
/** Another offset so far off is another explanation. */
const APART_S = 1;

interface Directions {
  readonly tNs: Float64Array;
  readonly inBody: readonly Vec3[];
}

/**
 * A source at rest is one point for the rays of all its frames, if attitude and image are of the same instant. Tried for every
 * offset up to 45 s: the gusts in the attitude make the right one stand out; a flight as steady as on rails tells nothing.
 */
export function clockFromGlows(
  glows: readonly GlowTrack[],
  track: Track,
  mounting: Mounting,
  lens: Lens,
): ClockFromGlows {
  const sights = glows.slice(0, MOST_TRACKS).map((glow) => directionsOf(glow, mounting, lens));
  if (sights.length === 0) return { kind: 'not told', because: 'no bright source' };
  const focalPx = (lens.fxPx + lens.fyPx) / 2;
  const costAt = (offsetS: number): number => {
    const squares = sights.map((sight) => scatterPx2(sight, track, mounting, offsetS, focalPx)).sort((a, b) => a - b);
    const kept = squares.slice(0, Math.ceil(AT_REST_SHARE * squares.length));
    return kept.reduce((a, b) => a + b, 0) / kept.length;
  };
  const steps = Math.round(REACH_S / COARSE_S);
  const offsets = Array.from({ length: 2 * steps + 1 }, (_, i) => (i - steps) * COARSE_S);
  const costs = offsets.map(costAt);
  const given = costs[steps];
  const usual = median(costs);
  let best = steps;
  costs.forEach((cost, i) => {
    if (cost < costs[best]) best = i;
  });
  const rms = Math.sqrt;
  // Refined about the best, and about zero, where a clock that is right may stand between two coarse steps.
  const fine = refine(offsets[best], costAt);
  const zero = refine(0, costAt);
  const sound = SOUND_PX ** 2;
  if (zero.cost <= Math.max(sound, 2 * fine.cost) && Math.abs(zero.offsetS) <= COARSE_S && zero.cost < usual / 4) {
    const small = Math.abs(zero.offsetS) > 4 * zero.sigmaS && given > 1.5 * zero.cost;
    if (!small) return { kind: 'agrees', tracks: sights.length, rmsPx: rms(zero.cost) };
    return {
      kind: 'offset',
      offsetS: zero.offsetS,
      sigmaS: zero.sigmaS,
      tracks: sights.length,
      givenRmsPx: rms(given),
      rmsPx: rms(zero.cost),
    };
  }
  if (fine.cost > sound && given > sound)
    return { kind: 'no offset fits', tracks: sights.length, givenRmsPx: rms(given), bestRmsPx: rms(fine.cost) };
  const elsewhere = Math.min(...costs.filter((_, i) => Math.abs(offsets[i] - fine.offsetS) > APART_S));
  if (elsewhere < 2 * fine.cost + 0.5 || given < 3 * fine.cost)
    return { kind: 'not told', because: 'the flight is too steady' };
  return {
    kind: 'offset',
    offsetS: fine.offsetS,
    sigmaS: fine.sigmaS,
    tracks: sights.length,
    givenRmsPx: rms(given),
    rmsPx: rms(fine.cost),
  };
}

function directionsOf(glow: GlowTrack, mounting: Mounting, lens: Lens): Directions {
  const n = Math.min(POINTS, glow.tNs.length);
  const rows = Array.from({ length: n }, (_, i) => Math.round((i * (glow.tNs.length - 1)) / Math.max(1, n - 1)));
  const seen = rows.flatMap((row) => {
    const xy = undistort(uvPx(glow.xPx[row], glow.yPx[row]), lens);
    return xy ? [{ row, ray: multiplyVec(mounting.bodyFromUv.rotation, unit([xy[0], xy[1], 1])) }] : [];
  });
  return { tNs: Float64Array.from(seen, ({ row }) => glow.tNs[row]), inBody: seen.map(({ ray }) => ray) };
}

/** Mean square angle, in pixels, of rays about the point that they come nearest to. */
function scatterPx2(sight: Directions, track: Track, mounting: Mounting, offsetS: number, focalPx: number): number {
  const at = sight.tNs.map((t) => t + mounting.timeOffsetNs + offsetS * 1e9);
  const poses = interpolatePoses(track, at);
  const worst = WORST_PX ** 2;
  const normal = new Float64Array(9);
  const right = new Float64Array(3);
  const rays: { origin: Vec3; direction: Vec3 }[] = [];
  for (let i = 0; i < at.length; i++) {
    if (poses.refusal[i] !== 0) return worst;
    const enuFromBody = poses.enuFromBody.subarray(9 * i, 9 * i + 9) as unknown as Mat3;
    const d = multiplyVec(enuFromBody, sight.inBody[i]);
    const lever = multiplyVec(enuFromBody, mounting.bodyFromUv.translation);
    const o: Vec3 = [
      poses.positionEnuM[3 * i] + lever[0],
      poses.positionEnuM[3 * i + 1] + lever[1],
      poses.positionEnuM[3 * i + 2] + lever[2],
    ];
    rays.push({ origin: o, direction: d });
    const along = dot(d, o);
    for (let r = 0; r < 3; r++) {
      for (let c = 0; c < 3; c++) normal[3 * r + c] += (r === c ? 1 : 0) - d[r] * d[c];
      right[r] += o[r] - d[r] * along;
    }
  }
  const inverse = invert(normal as unknown as Mat3);
  if (!inverse) return worst;
  const point = multiplyVec(inverse, [right[0], right[1], right[2]]);
  let square = 0;
  for (const { origin, direction } of rays) {
    const to = subtract(point, origin);
    const depth = dot(to, direction);
    if (!(depth > NEAREST_M && depth < FARTHEST_M)) return worst;
    const beside = subtract(to, scale(direction, depth));
    square += (focalPx * focalPx * dot(beside, beside)) / (depth * depth);
  }
  return Math.min(worst, square / Math.max(1, rays.length - 1.5));
}

/** The least cost within a coarse step of an offset, by fine steps, and from the curvature there how well it is known. */
function refine(
  aboutS: number,
  costAt: (offsetS: number) => number,
): { offsetS: number; sigmaS: number; cost: number } {
  const n = Math.round((1.5 * COARSE_S) / FINE_S);
  const offsets = Array.from({ length: 2 * n + 1 }, (_, i) => aboutS + (i - n) * FINE_S);
  const costs = offsets.map(costAt);
  let best = 0;
  costs.forEach((cost, i) => {
    if (cost < costs[best]) best = i;
  });
  // Three points wide enough apart that noise does not make the curvature.
  const wide = 5;
  const [a, b] = [costs[best - wide] ?? costs[0], costs[best + wide] ?? costs[costs.length - 1]];
  const curvature = (a + b - 2 * costs[best]) / (wide * FINE_S) ** 2;
  // Mean squares of some 2 (POINTS - 1.5) residuals: their sum over their own size is chi-square.
  const sigmaS = curvature > 0 ? Math.sqrt((2 * costs[best]) / (curvature * POINTS)) : COARSE_S;
  return { offsetS: offsets[best], sigmaS: Math.min(sigmaS, COARSE_S), cost: costs[best] };
}

function median(values: readonly number[]): number {
  return [...values].sort((x, y) => x - y)[values.length >> 1];
}
