import { meridianConvergenceDeg } from '../../earth/meridianConvergence.ts';
import { DEG_PER_RAD, wrapDeg360 } from '../../maths/angle.ts';
import type { Mat3 } from '../../maths/mat3.ts';
import { multiply } from '../../maths/mat3.ts';
import { type Quaternion, rotationFromQuaternion, yawPitchRollFromRotation } from '../../maths/rotation.ts';
import { numberIn } from './angleText.ts';
import type { AttitudeMapping } from './TrajectoryMapping.ts';
import type { Columns, TextRow } from './textTable.ts';

/** Roll (right wing down), pitch (nose up) and true heading (0 to 360), degrees; NaN where a cell holds no number. */
export type RollPitchHeading = readonly [rollDeg: number, pitchDeg: number, headingDeg: number];

/** The columns of an attitude and how to read them. `places`, where a heading is of a grid: it depends on the place. */
export interface AttitudeReader {
  readonly fields: readonly string[];
  readonly needsPlace: boolean;
  read(row: TextRow, lonDeg: number, latDeg: number): RollPitchHeading;
}

export type Turns = Extract<AttitudeMapping, { form: 'quaternion' }>['turns'];

/** East-north-up axes in north-east-down ones, and forward-right-down axes in forward-left-up ones. */
const NED_FROM_ENU: Mat3 = [0, 1, 0, 1, 0, 0, 0, 0, -1];
const FLU_FROM_FRD: Mat3 = [1, 0, 0, 0, -1, 0, 0, 0, -1];

/** @param q of any length but 0; NaN in gives NaN out */
export function anglesOfQuaternion(q: Quaternion, turns: Turns): RollPitchHeading {
  const k = 1 / Math.hypot(...q);
  // The recording's own rounding is taken out; a length far from 1 is another thing, and refused by the reader.
  const turn = rotationFromQuaternion([q[0] * k, q[1] * k, q[2] * k, q[3] * k]);
  const nedFromFrd =
    turns === 'north-east-down from forward-right-down' ? turn : multiply(multiply(NED_FROM_ENU, turn), FLU_FROM_FRD);
  const { yawRad, pitchRad, rollRad } = yawPitchRollFromRotation(nedFromFrd);
  return [rollRad * DEG_PER_RAD, pitchRad * DEG_PER_RAD, wrapDeg360(yawRad * DEG_PER_RAD)];
}

export function attitudeReader(mapping: AttitudeMapping, columns: Columns): AttitudeReader {
  if (mapping.form === 'quaternion') {
    const fields = [mapping.w, mapping.x, mapping.y, mapping.z];
    const cells = fields.map((name, i) => columns.at(name, `attitude.${'wxyz'[i]}`));
    return {
      fields,
      needsPlace: false,
      read: (row) => {
        const q = cells.map((cell) => numberIn(row.cells[cell])) as unknown as Quaternion;
        if (Math.abs(Math.hypot(...q) - 1) > 0.01) return [Number.NaN, Number.NaN, Number.NaN];
        return anglesOfQuaternion(q, mapping.turns);
      },
    };
  }
  const fields = [mapping.roll, mapping.pitch, mapping.heading];
  const names = ['attitude.roll', 'attitude.pitch', 'attitude.heading'];
  const [roll, pitch, heading] = fields.map((name, i) => columns.at(name, names[i]));
  const perUnit = mapping.unit === 'deg' ? 1 : DEG_PER_RAD;
  const rollSign = mapping.rollPositive === 'right wing down' ? perUnit : -perUnit;
  const pitchSign = mapping.pitchPositive === 'nose up' ? perUnit : -perUnit;
  const { north } = mapping;
  const northOf = northTurn(north);
  return {
    fields,
    needsPlace: typeof north === 'object' && 'grid' in north,
    read: (row, lonDeg, latDeg) => {
      const given = numberIn(row.cells[heading]) * perUnit;
      const clockwise = mapping.headingTurns === 'clockwise from north' ? given : 90 - given;
      // Adding 0 makes 0 of -0.
      return [
        numberIn(row.cells[roll]) * rollSign + 0,
        numberIn(row.cells[pitch]) * pitchSign + 0,
        wrapDeg360(clockwise + northOf(lonDeg, latDeg)),
      ];
    },
  };
}

/** What to add to a heading to make it true, by place. The convergence changes by 0.02 degrees a mile at most: taken anew every 100 m or so. */
function northTurn(
  north: Extract<AttitudeMapping, { form: 'angles' }>['north'],
): (lonDeg: number, latDeg: number) => number {
  if (north === 'true') return () => 0;
  if ('magneticDeclinationDeg' in north) return () => north.magneticDeclinationDeg;
  let at: readonly [number, number] = [Number.NaN, Number.NaN];
  let turn = 0;
  return (lonDeg, latDeg) => {
    if (!(Math.abs(lonDeg - at[0]) < 1e-3 && Math.abs(latDeg - at[1]) < 1e-3)) {
      at = [lonDeg, latDeg];
      turn = meridianConvergenceDeg(north.grid, lonDeg, latDeg);
    }
    return turn;
  };
}
