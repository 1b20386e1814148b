import type { SeenMark } from '../BenchObservations.ts';
import type { GreyImage } from './GreyImage.ts';
import type { CvDictionary, CvMat, OpenCv } from './OpenCv.ts';
import { sharpenMarker } from './sharpenMarker.ts';

/** The corners of one coded marker, in the order upper left, upper right, lower right, lower left of the marker upright. */
export interface FoundMarker {
  readonly number: number;
  readonly corners: readonly SeenMark[];
}

/** Finds coded targets in pictures; holds memory of OpenCV's until it is closed. */
export interface CodedFinder<Found> {
  find(image: GreyImage): Found;
  close(): void;
}

/**
 * Noise of OpenCV's corners: 0.042 px of board corners and 0.016 px of markers' in clean synthetic pictures, rounded up
 * for real ones; an adjustment corrects it by its residuals.
 */
const SIGMA_PX = 0.05;
/** CornerRefineMethod: corners to a part of a pixel. Left at its default of none, they are whole pixels. */
const REFINE_SUBPIX = 1;

/**
 * Coded markers of an open dictionary, found by OpenCV; their corners from the sides where these are plain.
 * Source: Garrido-Jurado, Muñoz-Salinas, Madrid-Cuevas & Marín-Jiménez, Pattern Recognition 47 (2014) 2280 (from memory).
 * @param dictionary as in bench.json, e.g. "4x4_50" or "apriltag_36h11"
 */
export function codedMarkerFinder(cv: OpenCv, dictionary: string): CodedFinder<FoundMarker[]> {
  const words = dictionaryOf(cv, dictionary);
  const { parameters, refine } = settings(cv);
  const detector = new cv.aruco_ArucoDetector(words, parameters, refine);
  return {
    find: (image) =>
      spoken(cv, () => {
        const picture = matOf(cv, image);
        const corners = new cv.MatVector();
        const ids = new cv.Mat();
        try {
          detector.detectMarkers(picture, corners, ids);
          const numbers = ids.data32S.slice();
          return Array.from(numbers, (number, i) => {
            const one = corners.get(i);
            try {
              const corners = marksOf(one.data32F);
              return { number, corners: sharpenMarker(image, corners) ?? corners };
            } finally {
              one.delete();
            }
          });
        } finally {
          for (const each of [picture, corners, ids]) each.delete();
        }
      }),
    close: () => {
      for (const each of [detector, refine, parameters, words]) each.delete();
    },
  };
}

export interface CodedBoard {
  readonly dictionary: string;
  /** Squares along x and y. */
  readonly columns: number;
  readonly rows: number;
  readonly squareM: number;
  readonly markerM: number;
}

/**
 * The inner corners of a chessboard whose bright squares carry coded markers, by OpenCV: row by row, (columns - 1) x (rows - 1);
 * null where a corner is covered or outside the picture. A part of the board is enough, as the markers tell which part.
 */
export function codedBoardFinder(cv: OpenCv, board: CodedBoard): CodedFinder<(SeenMark | null)[]> {
  const { columns, rows, squareM, markerM, dictionary } = board;
  const words = dictionaryOf(cv, dictionary);
  const { parameters, refine } = settings(cv);
  const none = new cv.Mat();
  const charuco = new cv.aruco_CharucoParameters();
  const layout = new cv.aruco_CharucoBoard(new cv.Size(columns, rows), squareM, markerM, words, none);
  const detector = new cv.aruco_CharucoDetector(layout, charuco, parameters, refine);
  return {
    find: (image) =>
      spoken(cv, () => {
        const picture = matOf(cv, image);
        const corners = new cv.Mat();
        const ids = new cv.Mat();
        try {
          detector.detectBoard(picture, corners, ids);
          const found: (SeenMark | null)[] = Array.from({ length: (columns - 1) * (rows - 1) }, () => null);
          const places = marksOf(corners.data32F);
          ids.data32S.forEach((id, i) => {
            found[id] = places[i];
          });
          return found;
        } finally {
          for (const each of [picture, corners, ids]) each.delete();
        }
      }),
    close: () => {
      for (const each of [detector, layout, charuco, none, refine, parameters, words]) each.delete();
    },
  };
}

function dictionaryOf(cv: OpenCv, name: string): CvDictionary {
  const kind = cv[`DICT_${name.startsWith('apriltag_') ? name.replace('apriltag', 'APRILTAG') : name.toUpperCase()}`];
  if (kind === undefined) throw new RangeError(`no dictionary ${name}`);
  return cv.getPredefinedDictionary(kind);
}

function settings(cv: OpenCv) {
  const parameters = new cv.aruco_DetectorParameters();
  parameters.cornerRefinementMethod = REFINE_SUBPIX;
  return { parameters, refine: new cv.aruco_RefineParameters(10, 3, true) };
}

function matOf(cv: OpenCv, { widthPx, heightPx, grey }: GreyImage): CvMat {
  const mat = new cv.Mat(heightPx, widthPx, cv.CV_8UC1);
  mat.data.set(grey);
  return mat;
}

function marksOf(flat: Float32Array): SeenMark[] {
  return Array.from({ length: flat.length / 2 }, (_, i) => ({
    u: flat[2 * i],
    v: flat[2 * i + 1],
    sigmaPx: SIGMA_PX,
  }));
}

/** OpenCV throws numbers; this throws what they stand for. */
function spoken<T>(cv: OpenCv, work: () => T): T {
  try {
    return work();
  } catch (error) {
    if (typeof error === 'number') throw new Error(`OpenCV: ${cv.exceptionFromPtr(error).msg}`);
    throw error;
  }
}
