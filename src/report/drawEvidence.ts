import type { EvidenceRecord } from '../campaign/records.ts';
import { contourLines } from './contourLines.ts';
import { INK, PAPER, ULTRAVIOLET } from './ink.ts';
import { bandwidthPx, contourLevels, photonDensity } from './photonDensity.ts';
import { scaleBarMark } from './scaleBarMark.ts';
import { drawing, element, pathData } from './xml.ts';

/** A part of a colour picture, in pixels of the full image (edges, not centres of pixels). */
export interface PictureWindow {
  readonly leftPx: number;
  readonly topPx: number;
  readonly widthPx: number;
  readonly heightPx: number;
}

/** The ultraviolet over one colour picture, ready to be laid on it, and the figures its caption has to state. */
export interface EvidenceDrawing {
  readonly svg: string;
  readonly widthMm: number;
  readonly heightMm: number;
  readonly mmPerPx: number;
  readonly window: PictureWindow;
  readonly kernelPx: number;
  /** Events per square pixel. */
  readonly peakDensity: number;
  /** Contour levels drawn, as shares of the peak, highest first. */
  readonly shares: readonly number[];
  readonly eventsInPicture: number;
  /** Whether each event is a dot; otherwise only those outside the lines are. */
  readonly everyDot: boolean;
  /** Metres that a pixel spans at the discharge; null where the focal length was not recorded. */
  readonly metresPerPx: number | null;
}

/**
 * Contours, single events and the cross of the placed discharge over a crop. Lines, not colour: the hardware below
 * stays visible. Each violet line lies on a paler, wider one, so that it reads on dark steel and on bright sky alike.
 */
export function drawEvidence(
  evidence: EvidenceRecord,
  box: { widthMm: number; heightMm: number },
  decimalMark: string,
): EvidenceDrawing {
  const { eventsColourPx } = evidence;
  const kernelPx = bandwidthPx(eventsColourPx, evidence.dischargeColourPx, evidence.overlaySigmaPx);
  const window = closeUp(evidence, kernelPx, box.widthMm / box.heightMm);
  const mmPerPx = Math.min(box.widthMm / window.widthPx, box.heightMm / window.heightPx);
  const widthMm = window.widthPx * mmPerPx;
  const heightMm = window.heightPx * mmPerPx;
  const density = photonDensity(eventsColourPx, window, kernelPx);
  const peakDensity = density.values.reduce((most, value) => Math.max(most, value), 0);
  const levels = contourLevels(density, kernelPx);

  const xMm = (uPx: number) => (uPx - window.leftPx) * mmPerPx;
  const yMm = (vPx: number) => (vPx - window.topPx) * mmPerPx;
  const marks: string[] = [];
  let eventsInPicture = 0;
  // Many dots inside the lines say nothing that the lines do not, and would hide the hardware.
  const everyDot = eventsColourPx.length / 2 <= MOST_DOTS;
  const dots: string[] = [];
  for (let e = 0; e + 1 < eventsColourPx.length; e += 2) {
    const x = xMm(eventsColourPx[e]!);
    const y = yMm(eventsColourPx[e + 1]!);
    if (x < 0 || y < 0 || x > widthMm || y > heightMm) continue;
    eventsInPicture += 1;
    const column = Math.round((eventsColourPx[e]! - density.leftPx) / density.stepPx);
    const row = Math.round((eventsColourPx[e + 1]! - density.topPx) / density.stepPx);
    const enclosed = (density.values[row * density.columns + column] ?? 0) > (levels.at(-1) ?? 0);
    if (enclosed && !everyDot) continue;
    // Zero-length strokes with round ends are the smallest dots that a page can hold.
    dots.push(`M${x.toFixed(2)} ${y.toFixed(2)}h0`);
  }
  if (dots.length > 0)
    for (const [stroke, width, opacity] of [
      [PAPER, 0.7, 0.8],
      [ULTRAVIOLET, 0.42, 0.9],
    ] as const)
      marks.push(
        element('path', {
          d: dots.join(''),
          fill: 'none',
          stroke,
          'stroke-width': width,
          'stroke-opacity': opacity,
          'stroke-linecap': 'round',
        }),
      );
  const contours = levels.map((level) =>
    contourLines(density, level)
      .map(({ points, closed }) => {
        const onPaper = points.map((p, k) =>
          k % 2 === 0 ? xMm(density.leftPx + p * density.stepPx) : yMm(density.topPx + p * density.stepPx),
        );
        return pathData(onPaper, closed);
      })
      .join(''),
  );
  for (const [stroke, extraMm, opacity] of [
    [PAPER, 0.45, 0.75],
    [ULTRAVIOLET, 0, 1],
  ] as const)
    contours.forEach((d, k) => {
      if (d !== '')
        marks.push(
          element('path', {
            d,
            fill: 'none',
            stroke,
            'stroke-opacity': opacity,
            'stroke-linejoin': 'round',
            // Higher ground, heavier line: the index contours of the sheet.
            'stroke-width': (k === 0 ? 0.42 : 0.28) + extraMm,
          }),
        );
    });

  const [u, v] = evidence.dischargeColourPx;
  // Open in the middle, so that the place itself and what glows there stay visible.
  const arm = (dx: number, dy: number) =>
    `M${xMm(u) + 2.4 * dx} ${yMm(v) + 2.4 * dy}L${xMm(u) + 5.6 * dx} ${yMm(v) + 5.6 * dy}`;
  const cross = arm(1, 0) + arm(-1, 0) + arm(0, 1) + arm(0, -1);
  marks.push(element('path', { d: cross, stroke: PAPER, 'stroke-width': 0.9, 'stroke-opacity': 0.9 }));
  marks.push(element('path', { d: cross, stroke: INK, 'stroke-width': 0.38 }));

  const metresPerPx = evidence.colourFocalPx === undefined ? null : evidence.rangeM / evidence.colourFocalPx;
  if (metresPerPx !== null)
    marks.push(scaleBarMark(1.5, heightMm - 1.5, mmPerPx / metresPerPx, 0.3 * widthMm, decimalMark));
  return {
    svg: drawing(widthMm, heightMm, marks),
    widthMm,
    heightMm,
    mmPerPx,
    window,
    kernelPx,
    peakDensity,
    shares: peakDensity > 0 ? levels.map((level) => level / peakDensity) : [],
    eventsInPicture,
    everyDot,
    metresPerPx,
  };
}

/**
 * The part of the crop to show large: ten spot widths across, but no less than what keeps hardware recognisable, and
 * never beyond the crop. Pixel (0, 0) is the centre of the first pixel, so the crop's edge lies half a pixel before it.
 */
function closeUp(evidence: EvidenceRecord, kernelPx: number, aspect: number): PictureWindow {
  const crop = {
    leftPx: evidence.cropLeftPx - 0.5,
    topPx: evidence.cropTopPx - 0.5,
    widthPx: evidence.cropWidthPx,
    heightPx: evidence.cropHeightPx,
  };
  const [u, v] = evidence.dischargeColourPx;
  const widthPx = Math.min(crop.widthPx, crop.heightPx * aspect, Math.max(LEAST_CLOSE_UP_PX, 20 * kernelPx));
  const heightPx = Math.min(crop.heightPx, widthPx / aspect);
  const within = (centre: number, size: number, from: number, whole: number) =>
    Math.min(Math.max(centre - size / 2, from), from + whole - size);
  return {
    leftPx: within(u, widthPx, crop.leftPx, crop.widthPx),
    topPx: within(v, heightPx, crop.topPx, crop.heightPx),
    widthPx,
    heightPx,
  };
}

const MOST_DOTS = 60;

/** About 45 dots an inch on a picture 104 mm wide: coarse, but a string and its discs can be told. */
const LEAST_CLOSE_UP_PX = 180;

/** The whole crop without ultraviolet, with a thin frame where the close-up was taken from. */
export function drawContext(
  evidence: EvidenceRecord,
  window: PictureWindow,
  box: { widthMm: number; heightMm: number },
): { svg: string; widthMm: number; heightMm: number } {
  const mmPerPx = Math.min(box.widthMm / evidence.cropWidthPx, box.heightMm / evidence.cropHeightPx);
  const frame = {
    x: (window.leftPx - evidence.cropLeftPx + 0.5) * mmPerPx,
    y: (window.topPx - evidence.cropTopPx + 0.5) * mmPerPx,
    width: window.widthPx * mmPerPx,
    height: window.heightPx * mmPerPx,
    fill: 'none',
  };
  const widthMm = evidence.cropWidthPx * mmPerPx;
  const heightMm = evidence.cropHeightPx * mmPerPx;
  return {
    widthMm,
    heightMm,
    svg: drawing(widthMm, heightMm, [
      element('rect', { ...frame, stroke: PAPER, 'stroke-width': 0.6, 'stroke-opacity': 0.85 }),
      element('rect', { ...frame, stroke: INK, 'stroke-width': 0.25 }),
    ]),
  };
}
