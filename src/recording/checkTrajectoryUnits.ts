import { InputError } from '../input/InputError.ts';
import type { TrajectoryTable } from './TrajectoryTable.ts';

const DEG = Math.PI / 180;
/** Metres a degree of latitude, near enough to tell a course. */
const M_PER_DEG = 111_200;

/**
 * Refuses a trajectory whose angles are plainly radians.
 * Positions: every latitude within pi/2 and every longitude within pi, read as degrees, is open sea off West Africa.
 * Attitude: values small enough for radians, and headings that follow the course over ground only when read as radians.
 * A flight sideways on one straight course, or a hover, does not tell; it passes.
 * @throws InputError
 */
export function checkTrajectoryUnits(table: TrajectoryTable, file: string): void {
  const largest = (column: Float64Array) => column.reduce((most, value) => Math.max(most, Math.abs(value)), 0);
  if (largest(table.latDeg) <= Math.PI / 2 && largest(table.lonDeg) <= Math.PI) {
    throw new InputError({
      file,
      field: 'lat_deg, lon_deg',
      found: `values up to ${largest(table.latDeg)} and ${largest(table.lonDeg)}, which look like radians`,
      expected: 'degrees',
      todo: 'Multiply latitude and longitude by 180/pi, or export them in degrees.',
    });
  }
  const smallEnough =
    largest(table.headingDeg) <= 2 * Math.PI &&
    largest(table.rollDeg) <= Math.PI &&
    largest(table.pitchDeg) <= Math.PI / 2;
  if (!smallEnough) return;
  const asDegrees = headingAgainstCourse(table, DEG);
  const asRadians = headingAgainstCourse(table, 1);
  if (asDegrees === null || asRadians === null) return;
  // Steady: the nose keeps its angle to the course, whatever that angle is. A wrong unit breaks that at the first turn;
  // on one straight course both readings are steady, and then only one of them can point ahead.
  const turns = asRadians.steadiness > 0.9 && asDegrees.steadiness < asRadians.steadiness - 0.15;
  const straight =
    asRadians.steadiness > 0.9 && Math.abs(asRadians.angle) < 20 * DEG && Math.abs(asDegrees.angle) > 45 * DEG;
  if (!turns && !straight) return;
  throw new InputError({
    file,
    field: 'heading_deg, roll_deg, pitch_deg',
    found: `headings up to ${largest(table.headingDeg)}, which follow the course over ground only as radians`,
    expected: 'degrees',
    todo: 'Multiply roll, pitch and heading by 180/pi, or export them in degrees.',
  });
}

/**
 * Mean angle from course to heading (radians) and how steady it is (length of the mean unit vector, 0 to 1) over the
 * seconds in which the aircraft moves faster than 2 m/s; null where there are fewer than five of them.
 */
function headingAgainstCourse(
  table: TrajectoryTable,
  radPerUnit: number,
): { angle: number; steadiness: number } | null {
  let from = 0;
  let count = 0;
  let sumCos = 0;
  let sumSin = 0;
  for (let i = 1; i < table.tNs.length; i++) {
    const dtS = (table.tNs[i] - table.tNs[from]) / 1e9;
    if (dtS < 1) continue;
    const northM = (table.latDeg[i] - table.latDeg[from]) * M_PER_DEG;
    const eastM = (table.lonDeg[i] - table.lonDeg[from]) * M_PER_DEG * Math.cos(table.latDeg[i] * DEG);
    if (Math.hypot(northM, eastM) > 2 * dtS) {
      const middle = (from + i) >> 1;
      const angle = table.headingDeg[middle] * radPerUnit - Math.atan2(eastM, northM);
      sumCos += Math.cos(angle);
      sumSin += Math.sin(angle);
      count++;
    }
    from = i;
  }
  if (count < 5) return null;
  return { angle: Math.atan2(sumSin, sumCos), steadiness: Math.hypot(sumCos, sumSin) / count };
}
