import { InputError } from '../../input/InputError.ts';
import { GrowingColumn } from '../growingColumn.ts';
import type { TrajectoryTable } from '../TrajectoryTable.ts';

/** One row: lon, lat, height; roll, pitch, heading; and what else there is. */
export interface TrajectoryRow {
  readonly tNs: number;
  readonly llh: readonly [number, number, number];
  readonly rollPitchHeading: readonly [number, number, number];
  readonly velocityNedMps: readonly [number, number, number] | null;
  /** North, east, down (m), roll, pitch, heading (degrees). */
  readonly sigma: readonly number[] | null;
  /** What the receiver says of the solution; null where nothing does. */
  readonly fix: string | null;
}

/** Gathers rows into a table. Velocities or standard deviations that only some rows have are left out, and that is said. */
export class TrajectoryBuilder {
  readonly #columns = Array.from({ length: 7 + 3 + 6 }, () => new GrowingColumn());
  readonly #fix: string[] = [];
  #velocities = 0;
  #sigmas = 0;
  #fixes = 0;
  #repeated = 0;

  /** @throws InputError for a time before the last one; a repeated stamp is left out and counted */
  add(row: TrajectoryRow, file: string, line: number): void {
    const last = this.#columns[0].last;
    if (row.tNs === last) {
      this.#repeated++;
      return;
    }
    if (!(row.tNs > last))
      throw new InputError({
        file,
        row: line,
        field: 'time',
        found: `${((last - row.tNs) / 1e9).toFixed(3)} s before the row before`,
        expected: 'times that rise',
        todo: 'Sort the rows by time; where the clock was set back, export the flight alone.',
      });
    if (row.velocityNedMps) this.#velocities++;
    if (row.sigma) this.#sigmas++;
    if (row.fix !== null) this.#fixes++;
    const [lon, lat, height] = row.llh;
    [
      ...[row.tNs, lat, lon, height, ...row.rollPitchHeading],
      ...(row.velocityNedMps ?? [0, 0, 0]),
      ...(row.sigma ?? [0, 0, 0, 0, 0, 0]),
    ].forEach((value, i) => {
      this.#columns[i].push(value);
    });
    this.#fix.push(row.fix ?? '');
  }

  get count(): number {
    return this.#columns[0].length;
  }

  /** @throws InputError for fewer than two rows */
  finish(file: string, notes: readonly string[]): TrajectoryTable {
    const n = this.count;
    if (n < 2)
      throw new InputError({
        file,
        found: `${n} rows with a position and an attitude`,
        expected: 'at least two poses',
        todo: 'Export the trajectory of the whole flight, and check the mapping.',
      });
    const said = [...notes];
    if (this.#repeated > 0) said.push(`${this.#repeated} rows with the stamp of the row before were left out.`);
    const whole = (have: number, what: string): boolean => {
      if (have > 0 && have < n) said.push(`Only ${have} of ${n} rows have ${what}; they are left aside.`);
      return have === n;
    };
    const velocity = whole(this.#velocities, 'velocities');
    const sigma = whole(this.#sigmas, 'standard deviations');
    const [tNs, latDeg, lonDeg, heightM, rollDeg, pitchDeg, headingDeg, north, east, down, ...sd] = this.#columns.map(
      (column) => column.toArray(),
    );
    return {
      tNs,
      latDeg,
      lonDeg,
      heightM,
      rollDeg,
      pitchDeg,
      headingDeg,
      velocityNedMps: velocity ? { north, east, down } : null,
      sigma: sigma
        ? { northM: sd[0], eastM: sd[1], downM: sd[2], rollDeg: sd[3], pitchDeg: sd[4], headingDeg: sd[5] }
        : null,
      ...(this.#fixes > 0 && { fix: this.#fix }),
      notes: said,
    };
  }
}
