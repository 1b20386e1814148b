import { projectWithDerivative } from '../camera/projectPoint.ts';
import type { Vec3 } from '../maths/vec3.ts';
import { insideImage, projectIntoPose, type SearchScene } from './SearchScene.ts';

/** A point followed through one pass, with the events near its track. All per-event arrays are parallel to `event`. */
export interface SourceFit {
  readonly pointEnuM: Vec3;
  /** Poses of the pass, first and last. */
  readonly fromPose: number;
  readonly toPose: number;
  readonly framesInView: number;
  /** Events of the source expected in a frame in view. */
  readonly eventsPerFrame: number;
  readonly logLikelihoodRatio: number;
  /** Area of the aperture (two sigmas about the smeared place), summed over the frames in view. */
  readonly aperturePx2Frames: number;
  readonly event: Int32Array;
  /** Density of the source's events at each event, per px², for one event. */
  readonly density: Float64Array;
  readonly membership: Float64Array;
  /** Factor on the variance across the track by which this source is wider than a point. */
  readonly spread: number;
}

/** Frames that a place may be out of the image within one pass: a gust, not a turn. */
export const GAP_FRAMES = 25;
/** Share of events in a wider rim of three sigmas: attitude noise is not Gaussian, and nobody's spots are. */
const RIM_SHARE = 0.04;
const RIM_VARIANCE = 9;
/** Events farther than this many sigmas from the track are not looked at. */
const REACH_SIGMAS = 4.5;

/** Longest pass, poses, over which one source is followed. */
const LONGEST_PASS = 6000;

/** The uninterrupted stretch of poses around `seedPose` in which a point is in view. */
export function passOf(scene: SearchScene, point: Vec3, seedPose: number): { fromPose: number; toPose: number } {
  const px = new Float64Array(2);
  const reach = (step: 1 | -1): number => {
    let last = seedPose;
    for (let p = seedPose + step; p >= 0 && p < scene.poseCount; p += step) {
      if (Math.abs(p - last) > GAP_FRAMES || Math.abs(p - seedPose) > LONGEST_PASS / 2) break;
      if (projectIntoPose(px, scene, p, point[0], point[1], point[2]) && insideImage(scene.lens, px[0], px[1]))
        last = p;
    }
    return last;
  };
  // Blur and smear reach into the frames just before and after the centre is in view.
  return { fromPose: Math.max(0, reach(-1) - 2), toPose: Math.min(scene.poseCount - 1, reach(1) + 2) };
}

/**
 * ln likelihood ratio of a point source over a pass, its flux as free parameter:
 *   max over m >= 0 of  sum ln(1 + m s_i / b_i) - m V,
 * s_i the source's density at event i (Gaussian, drawn out along the motion of the scene during the exposure), b_i the
 * background's, V the frames in view (in part where the place crosses the border). Source: extended likelihood, e.g. Cash, ApJ 228 (1979) 939.
 * @param background density at each event of the scene, per px² and frame, other sources included
 * @param spread     factor on the variance of the spot
 * @param stretch    factor on the length of the smear, > 1 while a place is still rough
 */
export function fitFlux(
  scene: SearchScene,
  background: Float64Array,
  pointEnuM: Vec3,
  pass: { fromPose: number; toPose: number },
  spread = 1,
  stretch = 1,
): SourceFit {
  const { fromPose, toPose } = pass;
  const n = toPose - fromPose + 1;
  const u = new Float64Array(n);
  const v = new Float64Array(n);
  const inView = new Uint8Array(n);
  const px = new Float64Array(2);
  const meanVariance = scene.meanVariancePx2;
  const mostReach = REACH_SIGMAS * Math.sqrt(scene.largestVariancePx2 * spread);
  let framesInView = 0;
  for (let i = 0; i < n; i++) {
    if (!projectIntoPose(px, scene, fromPose + i, pointEnuM[0], pointEnuM[1], pointEnuM[2])) continue;
    u[i] = px[0];
    v[i] = px[1];
    inView[i] = insideImage(scene.lens, px[0], px[1]) ? 2 : 1;
    if (inView[i] === 2) framesInView++;
  }
  const event: number[] = [];
  const density: number[] = [];
  const ratio: number[] = [];
  let aperturePx2 = 0;
  let exposedFrames = 0;
  for (let i = 0; i < n; i++) {
    if (inView[i] === 0) continue;
    const pose = fromPose + i;
    const first = scene.firstOfPose[pose];
    const end = scene.firstOfPose[pose + 1];
    // Motion of the image of the point in a second, from the frames beside.
    const a = i > 0 && inView[i - 1] ? i - 1 : i;
    const b = i < n - 1 && inView[i + 1] ? i + 1 : i;
    const dt = scene.tNs[fromPose + b] - scene.tNs[fromPose + a];
    const during = dt > 0 && dt < 0.5e9 ? (scene.exposureNs[pose] / dt) * stretch : 0;
    const mx = (u[b] - u[a]) * during;
    const my = (v[b] - v[a]) * during;
    const half = Math.hypot(mx, my) / 2;
    const ex = half > 0 ? mx / (2 * half) : 1;
    const ey = half > 0 ? my / (2 * half) : 0;
    exposedFrames += shareInside(scene, u[i], v[i], mx, my, meanVariance * spread);
    if (inView[i] === 2) aperturePx2 += apertureAreaPx2(half, meanVariance * spread);
    const farthest = mostReach + half;
    for (let k = first; k < end; k++) {
      const dx = scene.xPx[k] - u[i];
      const dy = scene.yPx[k] - v[i];
      // Most events lie far away: told without a root.
      if (dx > farthest || dx < -farthest || dy > farthest || dy < -farthest) continue;
      const variance = scene.variancePx2[k] * spread;
      const reach = REACH_SIGMAS * Math.sqrt(variance) + half;
      if (dx * dx + dy * dy > reach * reach) continue;
      const along = dx * ex + dy * ey;
      const across = dy * ex - dx * ey;
      const s =
        (1 - RIM_SHARE) * smearedDensity(along, across, half, variance) +
        RIM_SHARE * smearedDensity(along, across, half, variance * RIM_VARIANCE);
      event.push(k);
      density.push(s);
      ratio.push(s / background[k]);
    }
  }
  const flux = bestFlux(ratio, exposedFrames);
  const membership = Float64Array.from(ratio, (r) => (flux * r) / (1 + flux * r));
  let logLikelihoodRatio = -flux * exposedFrames;
  for (const r of ratio) logLikelihoodRatio += Math.log1p(flux * r);
  return {
    pointEnuM,
    fromPose,
    toPose,
    framesInView,
    eventsPerFrame: flux,
    logLikelihoodRatio,
    aperturePx2Frames: aperturePx2,
    event: Int32Array.from(event),
    density: Float64Array.from(density),
    membership,
    spread,
  };
}

/** Share of a smeared, blurred place that falls inside the image: by nine points along the smear and the blur about it. */
function shareInside(scene: SearchScene, u: number, v: number, mx: number, my: number, variance: number): number {
  const { widthPx, heightPx } = scene.lens;
  const sigma = Math.sqrt(variance);
  const rimX = Math.abs(mx) / 2 + 3 * sigma;
  const rimY = Math.abs(my) / 2 + 3 * sigma;
  if (u > rimX && v > rimY && u < widthPx - 1 - rimX && v < heightPx - 1 - rimY) return 1;
  let share = 0;
  for (let i = -4; i <= 4; i++) {
    const x = u + (mx * i) / 9;
    const y = v + (my * i) / 9;
    share += normalShare(-0.5, widthPx - 0.5, x, sigma) * normalShare(-0.5, heightPx - 0.5, y, sigma);
  }
  return share / 9;
}

const normalShare = (from: number, to: number, mean: number, sigma: number): number =>
  (errorFunction((to - mean) / (sigma * Math.SQRT2)) - errorFunction((from - mean) / (sigma * Math.SQRT2))) / 2;

/** Two sigmas around a smeared place. */
const apertureAreaPx2 = (half: number, variance: number): number =>
  Math.PI * 4 * variance + 8 * half * Math.sqrt(variance);

/** Gaussian of the given variance, moved evenly over [-half, half] along one axis, per px². */
function smearedDensity(along: number, across: number, half: number, variance: number): number {
  const cross = Math.exp((-across * across) / (2 * variance));
  if (half * half < 0.01 * variance)
    return (cross * Math.exp((-along * along) / (2 * variance))) / (2 * Math.PI * variance);
  const k = 1 / Math.sqrt(2 * variance);
  const line = (errorFunction((along + half) * k) - errorFunction((along - half) * k)) / (4 * half);
  return (cross * line) / Math.sqrt(2 * Math.PI * variance);
}

/** erf to 1.5e-7. Source: Abramowitz & Stegun 7.1.26. */
function errorFunction(x: number): number {
  const a = Math.abs(x);
  const t = 1 / (1 + 0.3275911 * a);
  const p = t * (0.254829592 + t * (-0.284496736 + t * (1.421413741 + t * (-1.453152027 + t * 1.061405429))));
  const e = 1 - p * Math.exp(-a * a);
  return x < 0 ? -e : e;
}

/** The flux that maximises sum ln(1 + m r) - m V: the root of a falling function, by Newton's method kept in a bracket. */
function bestFlux(ratio: readonly number[], exposedFrames: number): number {
  if (exposedFrames === 0) return 0;
  const slopeAt = (m: number): number => {
    let sum = -exposedFrames;
    for (const r of ratio) sum += r / (1 + m * r);
    return sum;
  };
  if (slopeAt(0) <= 0) return 0;
  let low = 0;
  let high = ratio.length / exposedFrames; // every event counts as one at most
  let m = high / 2;
  for (let i = 0; i < 40; i++) {
    let slope = -exposedFrames;
    let curvature = 0;
    for (const r of ratio) {
      const q = r / (1 + m * r);
      slope += q;
      curvature -= q * q;
    }
    if (slope > 0) low = m;
    else high = m;
    let next = m - slope / curvature;
    if (!(next > low && next < high)) next = (low + high) / 2;
    if (Math.abs(next - m) < 1e-9 * high) break;
    m = next;
  }
  return m;
}

/**
 * Moves a point to where the likelihood is largest: expectation (how far each event belongs to the source) and
 * maximisation (weighted least squares on the image residuals) in turn, from a wide aperture to the true one.
 * @param hopeless a place whose ratio is below this in the true aperture is not refined further
 */
export function refinePoint(
  scene: SearchScene,
  background: Float64Array,
  start: Vec3,
  seedPose: number,
  spread = 1,
  rough = true,
  hopeless = Number.NEGATIVE_INFINITY,
): SourceFit {
  let point = start;
  let pass = passOf(scene, point, seedPose);
  let best: SourceFit | null = null;
  const stages = rough
    ? [
        [6, 1.8],
        [2.5, 1.3],
        [1, 1],
        [1, 1],
        [1, 1],
        [1, 1],
      ]
    : [
        [1, 1],
        [1, 1],
        [1, 1],
        [1, 1],
      ];
  for (const [wider, stretch] of stages) {
    const fit = fitFlux(scene, background, point, pass, spread * wider, stretch);
    if (wider === 1) {
      if (best && fit.logLikelihoodRatio < best.logLikelihoodRatio + 1e-3) {
        if (fit.logLikelihoodRatio > best.logLikelihoodRatio) best = fit;
        break;
      }
      best = fit;
      if (fit.logLikelihoodRatio < hopeless) break;
    }
    const step = weightedStep(scene, fit);
    if (!step) break;
    point = [point[0] + step[0], point[1] + step[1], point[2] + step[2]];
    pass = passOf(scene, point, seedPose);
  }
  return best ?? fitFlux(scene, background, point, pass, spread, 1);
}

/** One Gauss-Newton step for the place, or null where the events do not say which way. */
function weightedStep(scene: SearchScene, fit: SourceFit): Vec3 | null {
  const N = new Float64Array(6); // upper triangle of the normal matrix
  const g = new Float64Array(3);
  const [X, Y, Z] = fit.pointEnuM;
  const px = new Float64Array(2);
  let used = 0;
  let depthM = 0;
  for (let i = 0; i < fit.event.length; i++) {
    const w = fit.membership[i];
    if (w < 0.02) continue;
    const k = fit.event[i];
    const p = scene.pose[k];
    const m = scene.uvFromEnu.subarray(p * 9, p * 9 + 9);
    const ex = X - scene.originEnuM[3 * p];
    const ey = Y - scene.originEnuM[3 * p + 1];
    const ez = Z - scene.originEnuM[3 * p + 2];
    const seen = projectWithDerivative(
      [m[0] * ex + m[1] * ey + m[2] * ez, m[3] * ex + m[4] * ey + m[5] * ez, m[6] * ex + m[7] * ey + m[8] * ez],
      scene.lens,
    );
    if (!seen) continue;
    const d = seen.byPoint;
    const j = [0, 0, 0, 0, 0, 0];
    for (let c = 0; c < 3; c++) {
      j[c] = d[0] * m[c] + d[1] * m[3 + c] + d[2] * m[6 + c];
      j[3 + c] = d[3] * m[c] + d[4] * m[3 + c] + d[5] * m[6 + c];
    }
    // Covariance of the residual: the spot, and the even smear (length² / 12) along the motion of the image.
    const v = scene.variancePx2[k] * fit.spread;
    let cxx = v;
    let cyy = v;
    let cxy = 0;
    const q = p + 1 < scene.poseCount ? p + 1 : p - 1;
    if (q >= 0 && projectIntoPose(px, scene, q, X, Y, Z)) {
      const dt = Math.abs(scene.tNs[q] - scene.tNs[p]);
      const during = dt > 0 && dt < 0.5e9 ? scene.exposureNs[p] / dt : 0;
      const mx = (px[0] - seen.px[0]) * during;
      const my = (px[1] - seen.px[1]) * during;
      cxx += (mx * mx) / 12;
      cyy += (my * my) / 12;
      cxy += (mx * my) / 12;
    }
    const det = cxx * cyy - cxy * cxy;
    const a = (w * cyy) / det;
    const b = (-w * cxy) / det;
    const c = (w * cxx) / det;
    const ru = scene.xPx[k] - seen.px[0];
    const rv = scene.yPx[k] - seen.px[1];
    const [j0, j1, j2, j3, j4, j5] = j;
    const u0 = a * j0 + b * j3;
    const u1 = a * j1 + b * j4;
    const u2 = a * j2 + b * j5;
    const v0 = b * j0 + c * j3;
    const v1 = b * j1 + c * j4;
    const v2 = b * j2 + c * j5;
    N[0] += u0 * j0 + v0 * j3;
    N[1] += u0 * j1 + v0 * j4;
    N[2] += u0 * j2 + v0 * j5;
    N[3] += u1 * j1 + v1 * j4;
    N[4] += u1 * j2 + v1 * j5;
    N[5] += u2 * j2 + v2 * j5;
    g[0] += u0 * ru + v0 * rv;
    g[1] += u1 * ru + v1 * rv;
    g[2] += u2 * ru + v2 * rv;
    used += w;
    depthM += w * Math.hypot(ex, ey, ez);
  }
  if (used < 1) return null;
  depthM /= used;
  // A weak pull to where it is, a tenth of the range: decides only what the rays leave open.
  const damp = 1 / (0.1 * depthM) ** 2;
  const [a, b, c, d, e, f] = [N[0] + damp, N[1], N[2], N[3] + damp, N[4], N[5] + damp];
  const A = d * f - e * e;
  const B = c * e - b * f;
  const C = b * e - c * d;
  const det = a * A + b * B + c * C;
  if (!(det > 0)) return null;
  const step: Vec3 = [
    (A * g[0] + B * g[1] + C * g[2]) / det,
    (B * g[0] + (a * f - c * c) * g[1] + (b * c - a * e) * g[2]) / det,
    (C * g[0] + (b * c - a * e) * g[1] + (a * d - b * b) * g[2]) / det,
  ];
  const size = Math.hypot(...step);
  const most = 0.1 * depthM;
  return size > most ? [(step[0] * most) / size, (step[1] * most) / size, (step[2] * most) / size] : step;
}
