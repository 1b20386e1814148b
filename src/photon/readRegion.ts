import type { DarkModel } from './DarkModel.ts';
import { chiSquareOfRadius, fitOneSpot, fitSpots, type SpotFit, type SpotWindow } from './fitSpots.ts';
import type { HitRegion } from './hitRegions.ts';
import { EVENT_FLAGS } from './PhotonEvents.ts';
import type { UvCamera } from './UvCamera.ts';

/** An event as its own frame shows it, before the frames around have their say. */
export interface EventShape {
  readonly xPx: number;
  readonly yPx: number;
  readonly charge: number;
  readonly sigmaPx: number;
  flags: number;
  /** The pixel that alone makes up this event, -1 where it has the shape of a spot. */
  readonly lonePixel: number;
  /** Longest side of the box around its region, px. */
  readonly extentPx: number;
  /** Radius within which its afterglow may lie, px. */
  readonly radiusPx: number;
}

/** Beyond this many mean charges single spots can no longer be told apart, and the charge alone counts. */
const SINGLE_SPOTS_UP_TO = 12;
const MOST_SPOTS = 6;
/** Gain in chi² that a further spot, with its three numbers, must bring (likelihood ratio e^12). */
const WORTH_A_SPOT = 24;
/** Gain in chi² by which a lone pixel must explain the signal better than a spot. */
const LONE_PIXEL_MARGIN = 9;
/** Standard deviation of a place that is only known to lie in one pixel. */
const LONE_PIXEL_SIGMA_PX = Math.sqrt(1 / 12);

/** The photon events in one region of hits. */
export function readRegion(
  region: HitRegion,
  data: Uint8Array | Uint16Array,
  dark: DarkModel,
  levelDn: number,
  camera: UvCamera,
  meanCharge: number,
): EventShape[] {
  const w = camera.widthPx;
  const h = camera.heightPx;
  let [left, right, top, bottom] = [w, 0, h, 0];
  let regionCharge = 0;
  let saturated = 0;
  for (const i of region.pixels) {
    const x = i % w;
    const y = (i - x) / w;
    left = Math.min(left, x);
    right = Math.max(right, x);
    top = Math.min(top, y);
    bottom = Math.max(bottom, y);
    regionCharge += data[i] - dark.meanDn[i] - levelDn;
    if (data[i] >= camera.saturationLevel) saturated++;
  }
  const extentPx = Math.max(right - left, bottom - top) + 1;
  const common = saturated > 0 ? EVENT_FLAGS.saturated : 0;
  const reachPx = Math.ceil(2.5 * camera.spotSigmaPx);
  const peaks = region.peaks;
  const asOne = regionCharge > SINGLE_SPOTS_UP_TO * meanCharge || saturated > 4;

  if (!asOne) {
    const starts = Array.from(peaks.subarray(0, MOST_SPOTS), (i) => ({ xPx: i % w, yPx: Math.floor(i / w) }));
    const window = windowAround(starts, reachPx, data, dark, levelDn, w, h);
    const single = fitOneSpot(window, starts[0], camera.spotSigmaPx);
    const lone = single && lonePixelOf(window, single.spots[0], camera.spotSigmaPx, w);
    if (lone) {
      const flags = common | EVENT_FLAGS.hotPixel;
      return [{ ...lone, sigmaPx: LONE_PIXEL_SIGMA_PX, flags, extentPx, radiusPx: camera.spotSigmaPx }];
    }
    const fit = fitAsManyAsNeeded(window, starts, camera.spotSigmaPx, single);
    if (fit) {
      const border = 1.5 * camera.spotSigmaPx;
      return fit.spots.map((spot) => {
        let flags = common;
        if (spot.xPx < border || spot.yPx < border || spot.xPx > w - 1 - border || spot.yPx > h - 1 - border)
          flags |= EVENT_FLAGS.atBorder;
        if (fit.spots.length > 1) flags |= EVENT_FLAGS.split;
        return { ...spot, flags, lonePixel: -1, extentPx, radiusPx: camera.spotSigmaPx };
      });
    }
  }

  // One event for the whole region: centroid and summed charge over the region and its rim.
  const rim = windowAround(
    Array.from(region.pixels, (i) => ({ xPx: i % w, yPx: Math.floor(i / w) })),
    2,
    data,
    dark,
    levelDn,
    w,
    h,
  );
  let [charge, sx, sy, noise] = [0, 0, 0, 0];
  for (let k = 0; k < rim.count; k++) {
    charge += rim.signal[k];
    sx += rim.signal[k] * rim.x[k];
    sy += rim.signal[k] * rim.y[k];
    noise += rim.variance[k];
  }
  if (!(charge > 3 * Math.sqrt(noise))) return [];
  const xPx = sx / charge;
  const yPx = sy / charge;
  let spread = 0;
  for (let k = 0; k < rim.count; k++) spread += rim.signal[k] * ((rim.x[k] - xPx) ** 2 + (rim.y[k] - yPx) ** 2);
  const radiusPx = Math.sqrt(Math.max(camera.spotSigmaPx ** 2, spread / charge / 2));
  const photons = Math.max(1, charge / meanCharge);
  let flags = common;
  if (asOne) flags |= EVENT_FLAGS.extended;
  if (left <= 2 || top <= 2 || right >= w - 3 || bottom >= h - 3) flags |= EVENT_FLAGS.atBorder;
  return [{ xPx, yPx, charge, sigmaPx: radiusPx / Math.sqrt(photons), flags, lonePixel: -1, extentPx, radiusPx }];
}

/** Starts from the local maxima; adds a spot where the residual is worst for as long as that pays. */
function fitAsManyAsNeeded(
  window: SpotWindow,
  starts: readonly { xPx: number; yPx: number }[],
  spotSigmaPx: number,
  single: SpotFit | null,
): SpotFit | null {
  // The strongest peak alone first: the others may be noise on its flank.
  let best = single;
  for (let k = 2; k <= MOST_SPOTS; k++) {
    if (best && best.chiSquare < window.count + 3 * Math.sqrt(2 * window.count) && k > starts.length) break;
    // What k spots would leave is chi² of this many degrees of freedom: two standard deviations below its mean and the
    // worth of a spot above, and hardly any real spot is missed (1 in 40 of those that are barely worth it).
    const freedom = window.count - 3 * k;
    if (best && best.chiSquare < WORTH_A_SPOT + freedom - 2 * Math.sqrt(2 * freedom)) break;
    const tries = [starts.slice(0, k)];
    if (best) tries.push([...best.spots, worstPlace(window, best, spotSigmaPx)]);
    const worthBelow = best ? best.chiSquare - WORTH_A_SPOT : Number.POSITIVE_INFINITY;
    let better: SpotFit | null = null;
    for (const places of tries) {
      if (places.length !== k) continue;
      const fit = fitSpots(window, places, spotSigmaPx, worthBelow);
      if (fit && apart(fit, spotSigmaPx) && (!better || fit.chiSquare < better.chiSquare)) better = fit;
    }
    if (!better || (best && best.chiSquare - better.chiSquare < WORTH_A_SPOT)) break;
    best = better;
  }
  return best;
}

/** Spots nearer than 0.7 sigma, or of hardly any charge, are no longer two. */
function apart(fit: SpotFit, spotSigmaPx: number): boolean {
  const { spots } = fit;
  const most = Math.max(...spots.map((spot) => spot.charge));
  for (let a = 0; a < spots.length; a++) {
    if (spots[a].charge < 0.05 * most) return false;
    for (let b = 0; b < a; b++)
      if (Math.hypot(spots[a].xPx - spots[b].xPx, spots[a].yPx - spots[b].yPx) < 0.7 * spotSigmaPx) return false;
  }
  return true;
}

/** Where a further spot would take up most of the residual: the largest smoothed residual. */
function worstPlace(window: SpotWindow, fit: SpotFit, spotSigmaPx: number): { xPx: number; yPx: number } {
  const bell = Float64Array.from({ length: Math.max(window.columns, window.rows) }, (_, d) =>
    Math.exp((-d * d) / (2 * spotSigmaPx * spotSigmaPx)),
  );
  let most = Number.NEGATIVE_INFINITY;
  let place = { xPx: window.x[0], yPx: window.y[0] };
  for (let i = 0; i < window.count; i++) {
    let sum = 0;
    for (let j = 0; j < window.count; j++)
      sum += fit.residual[j] * bell[Math.abs(window.x[i] - window.x[j])] * bell[Math.abs(window.y[i] - window.y[j])];
    if (sum > most) {
      most = sum;
      place = { xPx: window.x[i], yPx: window.y[i] };
    }
  }
  return place;
}

/** The pixel that explains the signal better alone than a spot does, or null. */
function lonePixelOf(
  window: SpotWindow,
  spot: { xPx: number; yPx: number },
  spotSigmaPx: number,
  w: number,
): { xPx: number; yPx: number; charge: number; lonePixel: number } | null {
  let most = -1;
  let pixel = -1;
  let [px, py] = [0, 0];
  for (let i = 0; i < window.count; i++) {
    if (window.signal[i] > most) {
      most = window.signal[i];
      px = window.x[i];
      py = window.y[i];
      pixel = py * w + px;
    }
  }
  const asSpot = chiSquareOfRadius(window, spot.xPx, spot.yPx, spotSigmaPx);
  const asPixel = chiSquareOfRadius(window, px, py, 0);
  return asPixel < asSpot - LONE_PIXEL_MARGIN ? { xPx: px, yPx: py, charge: most, lonePixel: pixel } : null;
}

/** All pixels within `reachPx` (a square) of the given places, each once, in order of pixel. */
function windowAround(
  places: readonly { xPx: number; yPx: number }[],
  reachPx: number,
  data: Uint8Array | Uint16Array,
  dark: DarkModel,
  levelDn: number,
  w: number,
  h: number,
): SpotWindow {
  let [left, right, top, bottom] = [w, 0, h, 0];
  for (const { xPx, yPx } of places) {
    left = Math.min(left, xPx - reachPx);
    right = Math.max(right, xPx + reachPx);
    top = Math.min(top, yPx - reachPx);
    bottom = Math.max(bottom, yPx + reachPx);
  }
  left = Math.max(0, left);
  right = Math.min(w - 1, right);
  top = Math.max(0, top);
  bottom = Math.min(h - 1, bottom);
  const columns = right - left + 1;
  const rows = bottom - top + 1;
  const inside = new Uint8Array(columns * rows);
  for (const { xPx, yPx } of places)
    for (let y = Math.max(top, yPx - reachPx); y <= Math.min(bottom, yPx + reachPx); y++) {
      const row = (y - top) * columns - left;
      inside.fill(1, row + Math.max(left, xPx - reachPx), row + Math.min(right, xPx + reachPx) + 1);
    }
  let count = 0;
  for (let k = 0; k < inside.length; k++) count += inside[k];
  const window = {
    leftPx: left,
    topPx: top,
    columns,
    rows,
    count,
    x: new Float64Array(count),
    y: new Float64Array(count),
    signal: new Float64Array(count),
    variance: new Float64Array(count),
  };
  for (let y = top, k = 0, cell = 0; y <= bottom; y++)
    for (let x = left; x <= right; x++) {
      if (inside[cell++] === 0) continue;
      const i = y * w + x;
      window.x[k] = x;
      window.y[k] = y;
      window.signal[k] = data[i] - dark.meanDn[i] - levelDn;
      window.variance[k++] = dark.noiseDn[i] * dark.noiseDn[i];
    }
  return window;
}
