import type { Vec3 } from '../maths/vec3.ts';
import type { BenchDescription, PatternDescription } from '../recording/BenchDescription.ts';
import type { TargetMark } from './BenchObservations.ts';

/** The points of a target in the order in which finders give them: marks (lamps and discs), then the points of a pattern. */
export function targetMarks({ marks, pattern }: BenchDescription['target']): TargetMark[] {
  if (!pattern)
    return marks.map(({ id, lampM, discM, discDiameterM }) => ({
      id,
      lampM,
      discM: discM!,
      discDiameterM: discDiameterM!,
    }));
  const lamps = marks.map(({ id, lampM }): TargetMark => ({ id, lampM, discM: lampM, discDiameterM: 0, sees: 'lamp' }));
  const points = patternPoints(pattern).map(
    ({ id, atM }): TargetMark => ({ id, lampM: atM, discM: atM, discDiameterM: 0, sees: 'visible' }),
  );
  return [...lamps, ...points];
}

/** The points of a pattern on the target, row by row, or marker by marker from its upper left corner clockwise. */
export function patternPoints(pattern: PatternDescription): { id: string; atM: Vec3 }[] {
  if (pattern.kind === 'coded markers')
    return pattern.markers.flatMap(({ number, centreM: [x, y, z], sideM }) =>
      (
        [
          [-1, -1],
          [1, -1],
          [1, 1],
          [-1, 1],
        ] as const
      ).map(([i, j], k) => ({
        id: `marker ${number} corner ${k}`,
        atM: [x + (i * sideM) / 2, y + (j * sideM) / 2, z] as const,
      })),
    );
  const { columns, rows } = cornerCount(pattern);
  const [x, y, z] = pattern.firstCornerM;
  return Array.from({ length: columns * rows }, (_, i) => {
    const [column, row] = [i % columns, Math.floor(i / columns)];
    return {
      id: `corner ${column},${row}`,
      atM: [x + column * pattern.squareM, y + row * pattern.squareM, z] as const,
    };
  });
}

/** Inner corners of a board; a coded one is described by its squares. */
export const cornerCount = (
  board: Exclude<PatternDescription, { kind: 'coded markers' }>,
): { readonly columns: number; readonly rows: number } =>
  board.kind === 'chessboard'
    ? { columns: board.columns, rows: board.rows }
    : { columns: board.columns - 1, rows: board.rows - 1 };
