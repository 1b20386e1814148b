import { join } from 'node:path';
import { InputError } from '../../input/InputError.ts';
import { DEG_PER_RAD } from '../../maths/angle.ts';
import type { Epoch } from '../../time/Epoch.ts';
import { insideFolder } from '../insideFolder.ts';
import type { TrajectoryTable } from '../TrajectoryTable.ts';
import { numberIn } from './angleText.ts';
import { attitudeReader, type RollPitchHeading } from './attitudeColumns.ts';
import { type AttitudeStream, joinPoses, poseAlongCourse } from './poseStreams.ts';
import { METRES, positionReader } from './positionColumns.ts';
import type { AttitudeElsewhere, AttitudeMapping, TableMapping } from './TrajectoryMapping.ts';
import { type Columns, readTextTable, type TextRow } from './textTable.ts';
import { type TimeReader, timeReader } from './timeColumn.ts';
import { TrajectoryBuilder } from './trajectoryBuilder.ts';

const METRES_PER_SECOND = { 'm/s': 1, 'km/h': 1 / 3.6, kn: 1852 / 3600, 'ft/s': 0.3048 } as const;
const DEGREES = { deg: 1, rad: DEG_PER_RAD, arcmin: 1 / 60 } as const;

/** Whether an attitude stands in the file of the positions. */
export const isInTable = (attitude: TableMapping['attitude']): attitude is AttitudeMapping => 'form' in attitude;

/**
 * Reads a text trajectory by its mapping.
 * @param folder  where files that the mapping names lie
 * @throws InputError for whatever the mapping does not fit, by row and column
 */
export async function readTextTrajectory(
  file: string,
  mapping: TableMapping,
  epoch: Epoch,
  folder: string,
): Promise<TrajectoryTable> {
  const builder = new TrajectoryBuilder();
  const elsewhere = isInTable(mapping.attitude) ? null : mapping.attitude;
  const bare = {
    tNs: [] as number[],
    llh: [] as [number, number, number][],
    sigma: [] as [number, number, number][],
    fix: [] as string[],
  };
  const leftOut = new Map<string, number>();
  const notes: string[] = [];
  let time: TimeReader | null = null;
  await readTextTable(file, mapping, (columns) => {
    const clock = timeReader(mapping.time, columns, epoch, file);
    time = clock;
    const position = positionReader(mapping.position, columns, file);
    notes.push(...position.assumed);
    const attitude = isInTable(mapping.attitude) ? attitudeReader(mapping.attitude, columns) : null;
    const velocity = velocityReader(mapping, columns, file);
    const sigma = sigmaReader(mapping, columns, file);
    const fix = fixReader(mapping, columns, file);
    return (row) => {
      const solution = fix(row);
      if (solution?.leaveOut) {
        leftOut.set(solution.name, (leftOut.get(solution.name) ?? 0) + 1);
        return;
      }
      const llh = position.read(row);
      const byFix =
        solution?.levelSigmaM !== undefined && solution.uprightSigmaM !== undefined
          ? ([solution.levelSigmaM, solution.levelSigmaM, solution.uprightSigmaM] as const)
          : null;
      if (!attitude) {
        const own = sigma(row)?.slice(0, 3) ?? byFix;
        if (!own)
          throw new InputError({
            file: `mapping of ${file}`,
            field: 'sigma',
            found: 'no standard deviations of the positions',
            expected: 'columns, stated values, or values by kind of fix',
            todo: 'State how well the positions are known.',
          });
        bare.tNs.push(clock.read(row));
        bare.llh.push([llh[0], llh[1], llh[2]]);
        bare.sigma.push([own[0], own[1], own[2]]);
        bare.fix.push(solution?.name ?? '');
        return;
      }
      const angles = attitude.read(row, llh[0], llh[1]);
      checkAngles(angles, attitude.fields, row, file);
      const given = sigma(row);
      builder.add(
        {
          tNs: clock.read(row),
          llh: [llh[0], llh[1], llh[2]],
          rollPitchHeading: angles,
          velocityNedMps: velocity(row),
          sigma: given && byFix && mapping.sigma?.form === 'stated' ? [...byFix, ...given.slice(3)] : given,
          fix: solution?.name ?? null,
        },
        file,
        row.row,
      );
    };
  });
  for (const [name, count] of leftOut)
    notes.push(`${count} rows with the fix "${name}" were left out, as the mapping says.`);
  const mended = (time as TimeReader | null)?.mended();
  if (mended) notes.push(mended);
  if (!elsewhere) return builder.finish(file, notes);
  const positions = {
    file,
    tNs: bare.tNs,
    llh: bare.llh,
    sigmaM: bare.sigma,
    fix: bare.fix.some((f) => f !== '') ? bare.fix : null,
  };
  return withAttitude(positions, elsewhere, epoch, folder, notes);
}

/** Joins positions with the attitude that the mapping names. */
export async function withAttitude(
  positions: Parameters<typeof joinPoses>[0],
  elsewhere: AttitudeElsewhere,
  epoch: Epoch,
  folder: string,
  notes: readonly string[],
): Promise<TrajectoryTable> {
  if (elsewhere.from === 'course') return poseAlongCourse(positions, elsewhere, notes);
  const file = insideFolder(folder, elsewhere.file, { file: join(folder, 'mapping'), field: 'attitude.file' });
  const tNs: number[] = [];
  const turns: RollPitchHeading[] = [];
  let late = 0;
  await readTextTable(file, elsewhere.table, (columns) => {
    const clock = timeReader(elsewhere.table.time, columns, epoch, file);
    const attitude = attitudeReader(elsewhere.table.attitude, columns);
    const [lonDeg, latDeg] = positions.llh[0] ?? [0, 0];
    return (row) => {
      const t = clock.read(row);
      if (t <= (tNs[tNs.length - 1] ?? Number.NEGATIVE_INFINITY)) {
        late++;
        return;
      }
      const angles = attitude.read(row, lonDeg, latDeg);
      checkAngles(angles, attitude.fields, row, file);
      tNs.push(t);
      turns.push(angles);
    };
  });
  const { rollDeg, pitchDeg, headingDeg } = elsewhere.sigma;
  const attitudes: AttitudeStream = { file, tNs, rollPitchHeading: turns, sigmaDeg: [rollDeg, pitchDeg, headingDeg] };
  const said =
    late > 0
      ? [...notes, `${late} rows of ${elsewhere.file} do not come later than the row before, and were left out.`]
      : notes;
  return joinPoses(positions, attitudes, said);
}

/** @throws InputError where an angle is missing or beyond what it can be */
function checkAngles(angles: RollPitchHeading, fields: readonly string[], row: TextRow, file: string): void {
  const most = [180, 90, 360];
  const bad = angles.findIndex((x, i) => !(Math.abs(x) <= most[i] + 1e-9));
  if (bad < 0) return;
  throw new InputError({
    file,
    row: row.row,
    field: fields.length === 3 ? fields[bad] : fields.join(', '),
    found: Number.isNaN(angles[bad]) ? 'no angle there' : `${angles[bad].toFixed(3)} degrees`,
    expected:
      fields.length === 3
        ? `${['a roll', 'a pitch', 'a heading'][bad]} of at most ${most[bad]} degrees`
        : 'a unit quaternion',
    todo: 'Correct the unit in the mapping, or leave rows without a solution out.',
  });
}

function velocityReader(
  mapping: TableMapping,
  columns: Columns,
  file: string,
): (row: TextRow) => [number, number, number] | null {
  const { velocity } = mapping;
  if (!velocity) return () => null;
  const fields = [velocity.north, velocity.east, velocity.vertical];
  const cells = fields.map((name, i) => columns.at(name, `velocity.${['north', 'east', 'vertical'][i]}`));
  const k = METRES_PER_SECOND[velocity.unit];
  const sign = velocity.verticalPositive === 'down' ? k : -k;
  return (row) => {
    const [north, east, vertical] = cells.map((cell, i) => {
      const value = numberIn(row.cells[cell]);
      if (Number.isFinite(value) && Math.abs(value * k) <= 500) return value;
      throw new InputError({
        file,
        row: row.row,
        field: fields[i],
        found: `"${row.cells[cell]}"`,
        expected: 'a speed below 500 m/s',
        todo: 'Correct the unit in the mapping.',
      });
    });
    return [north * k, east * k, vertical * sign + 0];
  };
}

function sigmaReader(
  mapping: TableMapping,
  columns: Columns,
  file: string,
): (row: TextRow) => readonly number[] | null {
  const { sigma } = mapping;
  if (!sigma) return () => null;
  if (sigma.form === 'stated') {
    const { northM, eastM, downM, rollDeg, pitchDeg, headingDeg } = sigma;
    return () => [northM, eastM, downM, rollDeg, pitchDeg, headingDeg];
  }
  const fields = [sigma.north, sigma.east, sigma.vertical, sigma.roll, sigma.pitch, sigma.heading];
  const cells = fields.map((name) => columns.at(name, 'sigma'));
  const k = METRES[sigma.lengthUnit];
  const d = DEGREES[sigma.angleUnit];
  return (row) =>
    cells.map((cell, i) => {
      const value = numberIn(row.cells[cell]);
      if (value >= 0) return value * (i < 3 ? k : d);
      throw new InputError({
        file,
        row: row.row,
        field: fields[i],
        found: `"${row.cells[cell]}"`,
        expected: 'a standard deviation of 0 or more',
        todo: 'Correct the column in the mapping.',
      });
    });
}

type FixKind = NonNullable<TableMapping['fix']>['kinds'][string];

function fixReader({ fix }: TableMapping, columns: Columns, file: string): (row: TextRow) => FixKind | null {
  if (!fix) return () => null;
  const cell = columns.at(fix.column, 'fix.column');
  return (row) => {
    const kind = fix.kinds[row.cells[cell]];
    if (kind) return kind;
    throw new InputError({
      file,
      row: row.row,
      field: fix.column,
      found: `"${row.cells[cell]}"`,
      expected: `one of ${Object.keys(fix.kinds)
        .map((k) => `"${k}"`)
        .join(', ')}, as the mapping lists`,
      todo: 'Add the kind of solution to fix.kinds, with "leaveOut": true where its rows are not to be used.',
    });
  };
}
