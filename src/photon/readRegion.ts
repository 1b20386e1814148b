import { chiSquareTakenUp, fitOneSpot } from './fitOneSpot.ts';
import { fitSaturated, type GlowPixels } from './fitSaturated.ts';
import { fitSpots, type SpotFit, unexplainedDn, whitenedResidual } from './fitSpots.ts';
import { GlowMemory } from './GlowMemory.ts';
import type { RegionList } from './hitRegions.ts';
import { EVENT_FLAGS } from './PhotonEvents.ts';
import { type FrameAboveDark, SpotWindow } from './SpotWindow.ts';
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
/** Light of a region reaches this far beyond its hits. */
const RIM_PX = 2;
/** Gain in chi² that a further spot, with its three numbers, must bring (likelihood ratio e^12). */
const WORTH_A_SPOT = 24;
/** Gain in chi² by which a lone pixel must explain the signal better than a spot. */
const LONE_PIXEL_MARGIN = 9;
/** Standard deviation of a place that is only known to lie in one pixel. */
const LONE_PIXEL_SIGMA_PX = Math.sqrt(1 / 12);

/** Reads the photon events out of regions of hits, one region after the other, in memory of its own. */
export class RegionReader {
  readonly #camera: UvCamera;
  readonly #window = new SpotWindow();
  /** Call its `nextFrame` when all regions of a frame are read. */
  readonly glows = new GlowMemory();

  constructor(camera: UvCamera) {
    this.#camera = camera;
  }

  /**
   * Appends the photon events in region `r`.
   * @param afterglowShare of the light of the frame before that shows again in this one; taken off regions of many photons
   */
  readInto(
    found: EventShape[],
    regions: RegionList,
    r: number,
    frame: FrameAboveDark,
    meanCharge: number,
    afterglowShare: number,
  ): void {
    const camera = this.#camera;
    const { data, dark, levelDn } = frame;
    const w = camera.widthPx;
    const h = camera.heightPx;
    const { pixels } = regions;
    const [from, end] = [regions.pixelsFrom[r], regions.pixelsFrom[r + 1]];
    let [left, right, top, bottom] = [w, 0, h, 0];
    let regionCharge = 0;
    let saturated = 0;
    for (let k = from; k < end; k++) {
      const i = pixels[k];
      const y = Math.floor(i / w);
      const x = i - y * w;
      if (x < left) left = x;
      if (x > right) right = x;
      if (y < top) top = y;
      if (y > bottom) bottom = y;
      regionCharge += data[i] - dark.meanDn[i] - levelDn;
      if (data[i] >= camera.saturationLevel) saturated++;
    }
    const extentPx = Math.max(right - left, bottom - top) + 1;
    const common = saturated > 0 ? EVENT_FLAGS.saturated : 0;
    const asOne = regionCharge > SINGLE_SPOTS_UP_TO * meanCharge || saturated > 4;
    if (!asOne && this.#readSpotsInto(found, frame, regions, r, common, extentPx, meanCharge)) return;

    // One event for the whole region: centroid and summed charge over the region and its rim.
    const rim = this.#window;
    rim.fillAround(frame, pixels, from, end, saturated > 0 ? 4 : RIM_PX);
    if (asOne) this.glows.takeOff(rim, afterglowShare);
    let [charge, sx, sy, noise] = [0, 0, 0, 0];
    for (let k = 0; k < rim.columns * rim.rows; k++) {
      if (rim.variance[k] === Number.POSITIVE_INFINITY) continue;
      charge += rim.signal[k];
      sx += rim.signal[k] * (rim.leftPx + (k % rim.columns));
      sy += rim.signal[k] * (rim.topPx + Math.floor(k / rim.columns));
      noise += rim.variance[k];
    }
    if (!(charge > 3 * Math.sqrt(noise))) return;
    const xPx = sx / charge;
    const yPx = sy / charge;
    let spread = 0;
    for (let k = 0; k < rim.columns * rim.rows; k++)
      spread +=
        rim.signal[k] *
        ((rim.leftPx + (k % rim.columns) - xPx) ** 2 + (rim.topPx + Math.floor(k / rim.columns) - yPx) ** 2);
    const radiusPx = Math.sqrt(Math.max(camera.spotSigmaPx ** 2, spread / charge / 2));
    if (saturated > 0) {
      // Pixel noise of photons: each of mean charge q gives q² (1 + spread²) spread over 4 pi s² pixels.
      const noisePerDn = (1.4 * meanCharge) / (4 * Math.PI * camera.spotSigmaPx ** 2);
      const pixels = glowPixels(rim, data, camera);
      const fit = fitSaturated(pixels, noisePerDn, camera.spotSigmaPx);
      if (fit && fit.charge > charge) {
        charge = fit.charge;
        for (let k = 0; k < pixels.x.length; k++)
          rim.signal[(pixels.y[k] - rim.topPx) * rim.columns + pixels.x[k] - rim.leftPx] = fit.lightDn[k];
      }
    }
    this.glows.keep(rim);
    const photons = Math.max(1, charge / meanCharge);
    let flags = common;
    if (asOne) flags |= EVENT_FLAGS.extended;
    if (left <= 2 || top <= 2 || right >= w - 3 || bottom >= h - 3) flags |= EVENT_FLAGS.atBorder;
    const sigmaPx = radiusPx / Math.sqrt(photons);
    found.push({ xPx, yPx, charge, sigmaPx, flags, lonePixel: -1, extentPx, radiusPx });
  }

  /** Appends the spots, or the one pixel, that make up a region; false where none can be fitted. */
  #readSpotsInto(
    found: EventShape[],
    frame: FrameAboveDark,
    regions: RegionList,
    r: number,
    common: number,
    extentPx: number,
    meanCharge: number,
  ): boolean {
    const { widthPx: w, heightPx: h, spotSigmaPx } = this.#camera;
    const { pixels, pixelsFrom, peaks } = regions;
    const firstPeak = regions.peaksFrom[r];
    const peakCount = Math.min(MOST_SPOTS, regions.peaksFrom[r + 1] - firstPeak);
    const window = this.#window;
    window.fillAround(frame, peaks, firstPeak, firstPeak + peakCount, Math.ceil(2.5 * spotSigmaPx));
    const strongest = peaks[firstPeak];
    const single = fitOneSpot(window, strongest % w, Math.floor(strongest / w), spotSigmaPx);
    const lone = single && lonePixelOf(window, single.spots[0], spotSigmaPx, w);
    if (lone) {
      const flags = common | EVENT_FLAGS.hotPixel;
      found.push({ ...lone, sigmaPx: LONE_PIXEL_SIGMA_PX, flags, extentPx, radiusPx: spotSigmaPx });
      return true;
    }
    const fit = fitAsManyAsNeeded(window, peaks.subarray(firstPeak, firstPeak + peakCount), w, spotSigmaPx, single);
    if (!fit) return false;
    const border = 1.5 * spotSigmaPx;
    // Photons that merged into fewer spots are wider than these, which then hold too little of their charge; a faint one beside
    // others may have no peak of its own, so that the whole region is asked.
    const sum = fit.spots.reduce((total, { charge }) => total + charge, 0);
    const isWider = fit.chiSquare > window.count + Math.sqrt(2 * window.count) || sum > 2 * meanCharge;
    let whole = 1;
    if (isWider) {
      window.fillAround(frame, pixels, pixelsFrom[r], pixelsFrom[r + 1], RIM_PX);
      whole = Math.max(0.5, 1 + unexplainedDn(window, fit.spots, spotSigmaPx) / sum);
      this.glows.keep(window);
    }
    for (const { xPx, yPx, charge, sigmaPx } of fit.spots) {
      let flags = common;
      if (xPx < border || yPx < border || xPx > w - 1 - border || yPx > h - 1 - border) flags |= EVENT_FLAGS.atBorder;
      if (fit.spots.length > 1) flags |= EVENT_FLAGS.split;
      found.push({ xPx, yPx, charge: whole * charge, sigmaPx, flags, lonePixel: -1, extentPx, radiusPx: spotSigmaPx });
    }
    return true;
  }
}

/** The pixels of a window, with what lies at the sensor's limit, or next to such a pixel, marked as saying nothing. */
function glowPixels(window: SpotWindow, data: Uint8Array | Uint16Array, camera: UvCamera): GlowPixels {
  const { widthPx: w, heightPx: h, saturationLevel } = camera;
  const { columns, rows, leftPx, topPx, signal, variance } = window;
  const take = Array.from({ length: columns * rows }, (_, i) => i).filter(
    (i) => variance[i] !== Number.POSITIVE_INFINITY,
  );
  const x = Float64Array.from(take, (i) => leftPx + (i % columns));
  const y = Float64Array.from(take, (i) => topPx + Math.floor(i / columns));
  const tells = Uint8Array.from(take, (_, k) => {
    for (let v = Math.max(0, y[k] - 1); v <= Math.min(h - 1, y[k] + 1); v++)
      for (let u = Math.max(0, x[k] - 1); u <= Math.min(w - 1, x[k] + 1); u++)
        if (data[v * w + u] >= saturationLevel) return 0;
    return 1;
  });
  return {
    x,
    y,
    signal: Float64Array.from(take, (i) => signal[i]),
    variance: Float64Array.from(take, (i) => variance[i]),
    tells,
  };
}

/** Starts from the local maxima; adds a spot where the residual is worst for as long as that pays. */
function fitAsManyAsNeeded(
  window: SpotWindow,
  peaks: Int32Array,
  widthPx: number,
  spotSigmaPx: number,
  single: SpotFit | null,
): SpotFit | null {
  // The strongest peak alone first: the others may be noise on its flank.
  let best = single;
  for (let k = 2; k <= MOST_SPOTS; k++) {
    if (best && best.chiSquare < window.count + 3 * Math.sqrt(2 * window.count) && k > peaks.length) break;
    // What k spots would leave is chi² of this many degrees of freedom: two standard deviations below its mean and the
    // worth of a spot above, and hardly any real spot is missed (1 in 40 of those that are barely worth it).
    const freedom = window.count - 3 * k;
    if (best && best.chiSquare < WORTH_A_SPOT + freedom - 2 * Math.sqrt(2 * freedom)) break;
    const starts = Array.from(peaks.subarray(0, k), (i) => ({ xPx: i % widthPx, yPx: Math.floor(i / widthPx) }));
    const tries = [starts];
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
  const { columns, rows, leftPx, topPx, variance } = window;
  const residual = whitenedResidual(window, fit.spots, spotSigmaPx);
  const bell = Float64Array.from({ length: Math.max(columns, rows) }, (_, d) =>
    Math.exp((-d * d) / (2 * spotSigmaPx * spotSigmaPx)),
  );
  const smoothAcross = new Float64Array(columns * rows);
  for (let i = 0; i < columns * rows; i++) {
    const row = i - (i % columns);
    for (let c = 0; c < columns; c++) smoothAcross[i] += residual[row + c] * bell[Math.abs(i - row - c)];
  }
  let most = Number.NEGATIVE_INFINITY;
  let place = { xPx: leftPx, yPx: topPx };
  for (let i = 0; i < columns * rows; i++) {
    if (variance[i] === Number.POSITIVE_INFINITY) continue;
    const column = i % columns;
    const row = (i - column) / columns;
    let sum = 0;
    for (let r = 0; r < rows; r++) sum += smoothAcross[r * columns + column] * bell[Math.abs(row - r)];
    if (sum > most) {
      most = sum;
      place = { xPx: leftPx + column, yPx: topPx + row };
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
  const { signal, columns, rows } = window;
  let brightest = 0;
  for (let i = 1; i < columns * rows; i++) if (signal[i] > signal[brightest]) brightest = i;
  const xPx = window.leftPx + (brightest % columns);
  const yPx = window.topPx + Math.floor(brightest / columns);
  const bySpot = chiSquareTakenUp(window, spot.xPx, spot.yPx, spotSigmaPx);
  const byPixel = chiSquareTakenUp(window, xPx, yPx, 0);
  return byPixel > bySpot + LONE_PIXEL_MARGIN
    ? { xPx, yPx, charge: signal[brightest], lonePixel: yPx * w + xPx }
    : null;
}
