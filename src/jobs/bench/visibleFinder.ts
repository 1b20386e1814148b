import type { ColourFrame } from '../../camera/GreyFrame.ts';
import type { BenchDescription } from '../../recording/BenchDescription.ts';
import type { SeenMark } from '../../rig/BenchObservations.ts';
import { findDiscs } from '../../rig/findDiscs.ts';
import { type ExpectedView, identifyMarks } from '../../rig/identifyMarks.ts';
import { codedBoardFinder, codedMarkerFinder } from '../../rig/patterns/codedTargets.ts';
import { findChessboard } from '../../rig/patterns/findChessboard.ts';
import { greyImage } from '../../rig/patterns/GreyImage.ts';
import { patternPoints } from '../../rig/targetMarks.ts';
import { loadOpenCv } from './loadOpenCv.ts';

export type SeenTarget =
  | { readonly kind: 'found'; readonly marks: readonly (SeenMark | null)[] }
  | { readonly kind: 'refused'; readonly because: string };

/** Finds what the colour camera sees of a target, in the order of `targetMarks`. */
export interface VisibleFinder {
  find(frame: ColourFrame, view: ExpectedView): SeenTarget;
  close(): void;
}

const asSeen = ({ u, v, sigmaPx }: SeenMark): SeenMark => ({ u, v, sigmaPx });
/** A pattern of which fewer points are seen is not worth a pose. */
const LEAST_POINTS = 8;

export async function visibleFinder({ marks, pattern }: BenchDescription['target']): Promise<VisibleFinder> {
  if (!pattern) return { find: (frame, view) => discsOf(marks, frame, view), close: () => undefined };
  const lamps: null[] = marks.map(() => null);
  const seen = (points: readonly (SeenMark | null)[]): SeenTarget => {
    const count = points.filter((p) => p !== null).length;
    if (count < LEAST_POINTS)
      return { kind: 'refused', because: `${pattern.kind}: ${count === 0 ? 'not found' : 'hardly any of it seen'}` };
    return { kind: 'found', marks: [...lamps, ...points] };
  };
  if (pattern.kind === 'chessboard')
    return {
      find: (frame, view) => {
        const { columns, rows, squareM, firstSquare } = pattern;
        const found = findChessboard(greyImage(frame), { columns, rows, squarePx: squareM * view.pxPerM, firstSquare });
        return found.kind === 'found'
          ? seen(found.corners)
          : { kind: 'refused', because: `chessboard: ${found.because}` };
      },
      close: () => undefined,
    };
  const cv = await loadOpenCv();
  if (pattern.kind === 'coded board') {
    const finder = codedBoardFinder(cv, pattern);
    return { find: (frame) => seen(finder.find(greyImage(frame))), close: finder.close };
  }
  const finder = codedMarkerFinder(cv, pattern.dictionary);
  const count = patternPoints(pattern).length;
  return {
    find: (frame) => {
      const points: (SeenMark | null)[] = Array.from({ length: count }, () => null);
      for (const { number, corners } of finder.find(greyImage(frame))) {
        const which = pattern.markers.findIndex((m) => m.number === number);
        if (which >= 0) corners.forEach((corner, k) => (points[4 * which + k] = corner));
      }
      return seen(points);
    },
    close: finder.close,
  };
}

function discsOf(marks: BenchDescription['target']['marks'], frame: ColourFrame, view: ExpectedView): SeenTarget {
  const diameters = marks.map((m) => m.discDiameterM!);
  const area = (diameterM: number): number => (Math.PI / 4) * (diameterM * view.pxPerM) ** 2;
  const holes = marks.map((m) => (m.holeDiameterM ?? 0) / m.discDiameterM!);
  const discs = findDiscs(frame, {
    leastAreaPx: 0.4 * area(Math.min(...diameters)),
    mostAreaPx: 2 * area(Math.max(...diameters)),
    most: 6 * marks.length + 6,
  }).filter((d) => holes.some((hole) => isLike(hole, d.holeShare, d.areaPx)));
  const identified = identifyMarks(
    marks.map((m) => [m.discM![0], m.discM![1]] as const),
    discs.map((d) => [d.u, d.v] as const),
    view,
  );
  if (identified.kind === 'refused')
    return { kind: 'refused', because: `discs: ${identified.because} (${discs.length} discs)` };
  return { kind: 'found', marks: identified.spotOfMark.map((spot) => (spot < 0 ? null : asSeen(discs[spot]))) };
}

/** Whether a hole of a seen size may be the stated one; blur fills the holes of small rings. */
function isLike(statedShare: number, seenShare: number, areaPx: number): boolean {
  const radiusPx = Math.sqrt(areaPx / Math.PI);
  if (statedShare === 0) return seenShare === 0;
  return Math.abs(seenShare - statedShare) < 0.2 || (seenShare === 0 && statedShare * radiusPx < 2.5);
}
