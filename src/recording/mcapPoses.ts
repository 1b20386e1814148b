import { InputError } from '../input/InputError.ts';
import { checkTrajectoryUnits } from './checkTrajectoryUnits.ts';
import { GrowingColumn } from './growingColumn.ts';
import { TOPICS } from './mcapSchemas.ts';
import type { TrajectoryTable } from './TrajectoryTable.ts';

/** A message of the trajectory. */
export interface PoseFields {
  readonly lat_deg: number;
  readonly lon_deg: number;
  readonly height_m: number;
  readonly roll_deg: number;
  readonly pitch_deg: number;
  readonly heading_deg: number;
  readonly velocity_ned_mps: readonly number[];
  readonly sigma: readonly number[];
}

/** The trajectory of a recording, as its messages tell it. */
export class PosesRead {
  readonly #columns = Array.from({ length: 7 + 3 + 6 }, () => new GrowingColumn());
  #repeated = 0;
  #withVelocity = true;
  #withSigma = true;

  take(tNs: number, pose: PoseFields): void {
    if (tNs <= this.#columns[0].last) {
      this.#repeated++;
      return;
    }
    this.#withVelocity &&= pose.velocity_ned_mps.length === 3;
    this.#withSigma &&= pose.sigma.length === 6;
    const { lat_deg, lon_deg, height_m, roll_deg, pitch_deg, heading_deg } = pose;
    [
      ...[tNs, lat_deg, lon_deg, height_m, roll_deg, pitch_deg, heading_deg],
      ...(this.#withVelocity ? pose.velocity_ned_mps : [0, 0, 0]),
      ...(this.#withSigma ? pose.sigma : [0, 0, 0, 0, 0, 0]),
    ].forEach((value, i) => this.#columns[i].push(value));
  }

  finish(file: string, notes: string[]): TrajectoryTable {
    const columns = this.#columns;
    if (columns[0].length < 2) {
      throw new InputError({
        file,
        field: TOPICS.trajectory.topic,
        found: `${columns[0].length} poses`,
        expected: 'at least two poses',
        todo: 'Record the trajectory with the frames.',
      });
    }
    if (this.#repeated > 0) notes.push(`${this.#repeated} poses with a stamp that was there before are left out.`);
    const [tNs, latDeg, lonDeg, heightM, rollDeg, pitchDeg, headingDeg, north, east, down, ...sd] = columns.map(
      (column) => column.toArray(),
    );
    const table: TrajectoryTable = {
      tNs,
      latDeg,
      lonDeg,
      heightM,
      rollDeg,
      pitchDeg,
      headingDeg,
      velocityNedMps: this.#withVelocity ? { north, east, down } : null,
      sigma: this.#withSigma
        ? { northM: sd[0], eastM: sd[1], downM: sd[2], rollDeg: sd[3], pitchDeg: sd[4], headingDeg: sd[5] }
        : null,
    };
    checkTrajectoryUnits(table, `${file}, ${TOPICS.trajectory.topic}`);
    return table;
  }
}
