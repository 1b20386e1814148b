import { InputError } from '../input/InputError.ts';
import { csvNumber } from './csvNumber.ts';
import { readCsvRows } from './csvRows.ts';

/** One row of `surveyed.csv`: a light whose place was measured on the ground. Height ellipsoidal; sigma per axis. */
export interface SurveyedPoint {
  readonly id: string;
  readonly latDeg: number;
  readonly lonDeg: number;
  readonly heightM: number;
  readonly sigmaM: number;
}

/**
 * Reads `surveyed.csv`.
 * @throws InputError for values that are missing, not numbers or out of range, an id that is empty or used twice, and a
 *   table without rows
 */
export async function readSurveyedPoints(file: string): Promise<SurveyedPoint[]> {
  const points: SurveyedPoint[] = [];
  const columns = { required: ['id', 'lat_deg', 'lon_deg', 'height_m', 'sigma_m'], optional: [] };
  await readCsvRows(file, columns, (cells, row) => {
    const id = cells.text(0).trim();
    if (id === '' || points.some((point) => point.id === id))
      throw new InputError({
        file,
        row,
        field: 'id',
        found: id === '' ? 'an empty cell' : `'${id}' a second time`,
        expected: 'a name of its own for every lamp',
        todo: 'Name the lamps differently.',
      });
    points.push({
      id,
      latDeg: csvNumber(cells, 1, file, row, 'lat_deg', -90, 90),
      lonDeg: csvNumber(cells, 2, file, row, 'lon_deg', -180, 180),
      heightM: csvNumber(cells, 3, file, row, 'height_m', -1000, 9500),
      // A sigma of nought would make one lamp outweigh the trajectory; a tenth of a millimetre is better than any survey.
      sigmaM: csvNumber(cells, 4, file, row, 'sigma_m', 1e-4, 10),
    });
  });
  if (points.length === 0)
    throw new InputError({
      file,
      found: 'no rows',
      expected: 'at least one lamp',
      todo: 'Write one row a lamp, or leave the file out.',
    });
  return points;
}
