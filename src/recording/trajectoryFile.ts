import { InputError } from '../input/InputError.ts';
import type { CsvRow } from './CsvRow.ts';
import { checkRising } from './checkRising.ts';
import { checkTrajectoryUnits } from './checkTrajectoryUnits.ts';
import { csvInteger, csvNumber } from './csvNumber.ts';
import { readCsvRows } from './csvRows.ts';
import { GrowingColumn } from './growingColumn.ts';
import type { TrajectoryTable } from './TrajectoryTable.ts';

/** Columns after the time, with the range each may take; the heading comes last. */
const POSE = [
  ['lat_deg', -90, 90],
  ['lon_deg', -180, 180],
  ['height_m', -1000, 30000],
  ['roll_deg', -180, 180],
  ['pitch_deg', -90, 90],
  ['heading_deg', 0, 360],
] as const;
const VELOCITY = ['v_north_mps', 'v_east_mps', 'v_down_mps'] as const;
const SIGMA = ['sd_north_m', 'sd_east_m', 'sd_down_m', 'sd_roll_deg', 'sd_pitch_deg', 'sd_heading_deg'] as const;

/**
 * Reads `trajectory.csv`.
 * @throws InputError for times not rising, values that are missing, not numbers or out of range, velocities or standard
 *   deviations of which only some columns are there, and units that cannot be right (radians)
 */
export async function readTrajectory(file: string): Promise<TrajectoryTable> {
  const tNs = new GrowingColumn();
  const pose = POSE.map(() => new GrowingColumn());
  const velocity = VELOCITY.map(() => new GrowingColumn());
  const sigma = SIGMA.map(() => new GrowingColumn());
  const velocityAt = 1 + POSE.length;
  const sigmaAt = velocityAt + VELOCITY.length;
  const fixAt = sigmaAt + SIGMA.length;
  const fix: string[] = [];
  const columns = { required: ['t_ns', ...POSE.map(([name]) => name)], optional: [...VELOCITY, ...SIGMA, 'fix'] };
  let checkedGroups = false;
  await readCsvRows(file, columns, (cells, row) => {
    if (!checkedGroups) {
      checkWholeGroup(VELOCITY, cells, velocityAt, file);
      checkWholeGroup(SIGMA, cells, sigmaAt, file);
      checkedGroups = true;
    }
    const t = csvInteger(cells, 0, file, row, 't_ns', 'integer nanoseconds since the epoch', -Number.MAX_SAFE_INTEGER);
    checkRising(t, tNs.last, file, row);
    tNs.push(t);
    const heading = cells.number(POSE.length);
    if (heading >= 360 || heading < 0) {
      throw new InputError({
        file,
        row,
        field: 'heading_deg',
        found: cells.text(POSE.length).trim(),
        expected: 'true heading, 0 <= heading < 360',
        todo: 'Export headings wrapped to one turn.',
      });
    }
    POSE.forEach(([name, min, max], i) => {
      pose[i].push(csvNumber(cells, i + 1, file, row, name, min, max));
    });
    if (cells.has(velocityAt)) {
      VELOCITY.forEach((name, i) => velocity[i].push(csvNumber(cells, velocityAt + i, file, row, name, -500, 500)));
    }
    if (cells.has(sigmaAt)) {
      SIGMA.forEach((name, i) => sigma[i].push(csvNumber(cells, sigmaAt + i, file, row, name, 0, 10_000)));
    }
    if (cells.has(fixAt)) fix.push(cells.text(fixAt).trim());
  });
  if (tNs.length < 2) {
    throw new InputError({
      file,
      found: `${tNs.length} rows`,
      expected: 'at least two poses',
      todo: 'Export the trajectory of the whole flight.',
    });
  }
  const [latDeg, lonDeg, heightM, rollDeg, pitchDeg, headingDeg] = pose.map((column) => column.toArray());
  const [north, east, down] = velocity.map((column) => column.toArray());
  const [northM, eastM, downM, sdRoll, sdPitch, sdHeading] = sigma.map((column) => column.toArray());
  const table: TrajectoryTable = {
    tNs: tNs.toArray(),
    latDeg,
    lonDeg,
    heightM,
    rollDeg,
    pitchDeg,
    headingDeg,
    velocityNedMps: north.length > 0 ? { north, east, down } : null,
    sigma:
      northM.length > 0 ? { northM, eastM, downM, rollDeg: sdRoll, pitchDeg: sdPitch, headingDeg: sdHeading } : null,
    ...(fix.length > 0 && { fix }),
  };
  checkTrajectoryUnits(table, file);
  return table;
}

function checkWholeGroup(names: readonly string[], cells: CsvRow, from: number, file: string): void {
  const missing = names.filter((_, i) => !cells.has(from + i));
  if (missing.length === 0 || missing.length === names.length) return;
  throw new InputError({
    file,
    row: 1,
    field: missing[0],
    found: `no such column beside ${names.filter((name) => !missing.includes(name)).join(', ')}`,
    expected: `all of ${names.join(', ')}, or none`,
    todo: 'Export the missing columns, or leave the others out.',
  });
}
