import type { LocalFrame } from '../earth/LocalFrame.ts';
import { InputError } from '../input/InputError.ts';
import { RAD_PER_DEG } from '../maths/angle.ts';
import { hermite } from '../maths/cubicHermite.ts';
import { multiply, multiplyVec } from '../maths/mat3.ts';
import { quaternionFromRotation, rotationFromYawPitchRoll, slerp } from '../maths/rotation.ts';
import type { Vec3 } from '../maths/vec3.ts';
import type { TrajectoryTable } from '../recording/TrajectoryTable.ts';
import { bridgeFactor } from './bridge.ts';
import { quaternionAt, vectorBetween } from './quaternionRow.ts';
import type { RowSigma, Track } from './Track.ts';

export interface TrackOptions {
  /** Two rows farther apart are a gap that is not bridged. Default: 1 s, or 2.5 periods of a slower trajectory. */
  readonly longestBridgeNs?: number;
  /** Taken where the table carries no standard deviations; see CAUTIOUS_SIGMA. */
  readonly assumedSigma?: RowSigma;
  /** Name of the file, for messages. */
  readonly file?: string;
}

/**
 * For trajectories without standard deviations: a phase-differential GNSS receiver with a small inertial unit, on the
 * cautious side (common practice, no source). Wherever it is used, `Track.assumedSigma` is not null and trackFindings says so.
 */
export const CAUTIOUS_SIGMA: RowSigma = {
  northM: 0.05,
  eastM: 0.05,
  downM: 0.08,
  rollDeg: 0.05,
  pitchDeg: 0.05,
  headingDeg: 0.2,
};

/**
 * Turns a recorded trajectory into one that can be asked for a pose at any time inside it. Attitude is taken in the
 * north-east-down axes of each row's own place and turned into the frame's axes through earth-centred ones.
 * @throws InputError for fewer than three rows, columns of unequal length, values that are no numbers, times not rising
 */
export function buildTrack(table: TrajectoryTable, frame: LocalFrame, options: TrackOptions = {}): Track {
  const count = table.tNs.length;
  checkTable(table, options.file ?? 'trajectory');
  const positionEnuM = new Float64Array(3 * count);
  const velocityEnuMps = new Float64Array(3 * count);
  const enuFromBody = new Float64Array(4 * count);
  const v = table.velocityNedMps;
  for (let i = 0; i < count; i++) {
    const llh = [table.lonDeg[i], table.latDeg[i], table.heightM[i]] as const;
    positionEnuM.set(frame.enuFromLlh(llh), 3 * i);
    const enuFromNed = frame.enuFromNedAt(llh);
    const nedFromBody = rotationFromYawPitchRoll(
      table.headingDeg[i] * RAD_PER_DEG,
      table.pitchDeg[i] * RAD_PER_DEG,
      table.rollDeg[i] * RAD_PER_DEG,
    );
    enuFromBody.set(quaternionFromRotation(multiply(enuFromNed, nedFromBody)), 4 * i);
    if (v) velocityEnuMps.set(multiplyVec(enuFromNed, [v.north[i], v.east[i], v.down[i]]), 3 * i);
  }
  const periodNs = medianPeriodNs(table.tNs);
  const longestBridgeNs = options.longestBridgeNs ?? Math.max(1e9, 2.5 * periodNs);
  if (!v) differentiateInto(velocityEnuMps, positionEnuM, table.tNs, longestBridgeNs);
  const bare = { tNs: table.tNs, count, positionEnuM, velocityEnuMps, enuFromBody, velocityRecorded: v !== null };
  return {
    ...bare,
    frame,
    table,
    assumedSigma: table.sigma ? null : (options.assumedSigma ?? CAUTIOUS_SIGMA),
    periodNs,
    longestBridgeNs,
    ...strayDensities(bare, periodNs, longestBridgeNs),
  };
}

function checkTable(table: TrajectoryTable, file: string): void {
  const n = table.tNs.length;
  if (n < 3)
    throw new InputError({
      file,
      found: `${n} rows`,
      expected: 'at least 3 rows',
      todo: 'Export the whole trajectory of the flight.',
    });
  const columns: Record<string, Float64Array> = {
    lat_deg: table.latDeg,
    lon_deg: table.lonDeg,
    height_m: table.heightM,
    roll_deg: table.rollDeg,
    pitch_deg: table.pitchDeg,
    heading_deg: table.headingDeg,
    ...(table.velocityNedMps && {
      v_north_mps: table.velocityNedMps.north,
      v_east_mps: table.velocityNedMps.east,
      v_down_mps: table.velocityNedMps.down,
    }),
  };
  for (const [field, column] of Object.entries(columns)) {
    if (column.length !== n) throw new RangeError(`buildTrack: ${field} has ${column.length} rows where t_ns has ${n}`);
    const bad = column.findIndex((x) => !Number.isFinite(x));
    if (bad >= 0)
      throw new InputError({
        file,
        row: bad + 2,
        field,
        found: String(column[bad]),
        expected: 'a number',
        todo: 'Leave rows without a solution out of the export.',
      });
  }
  for (let i = 1; i < n; i++)
    if (!(table.tNs[i] > table.tNs[i - 1]))
      throw new InputError({
        file,
        row: i + 2,
        field: 't_ns',
        found: `${table.tNs[i]} after ${table.tNs[i - 1]}`,
        expected: 'strictly rising times',
        todo: 'Sort the rows by time and drop repeated ones.',
      });
}

function medianPeriodNs(tNs: Float64Array): number {
  const steps = new Float64Array(tNs.length - 1);
  for (let i = 0; i < steps.length; i++) steps[i] = tNs[i + 1] - tNs[i];
  steps.sort();
  return steps[steps.length >> 1];
}

/** Slope of the parabola through a row and its neighbours; one-sided at the ends and beside gaps. */
function differentiateInto(outMps: Float64Array, positionM: Float64Array, tNs: Float64Array, longestBridgeNs: number) {
  const n = tNs.length;
  for (let i = 0; i < n; i++) {
    const before = i > 0 && tNs[i] - tNs[i - 1] <= longestBridgeNs ? i - 1 : i;
    const after = i < n - 1 && tNs[i + 1] - tNs[i] <= longestBridgeNs ? i + 1 : i;
    const t0 = (tNs[i] - tNs[before]) * 1e-9;
    const t1 = (tNs[after] - tNs[i]) * 1e-9;
    for (let k = 0; k < 3; k++) {
      const back = before < i ? (positionM[3 * i + k] - positionM[3 * before + k]) / t0 : 0;
      const forth = after > i ? (positionM[3 * after + k] - positionM[3 * i + k]) / t1 : 0;
      outMps[3 * i + k] = before === i ? forth : after === i ? back : (back * t1 + forth * t0) / (t0 + t1);
    }
  }
}

/**
 * What bridging about one second would have missed, at up to 2000 rows spread over the track, as power densities: the
 * mean square at the middle of the bridge divided by what a density of 1 would give there. Row noise is in it, so that
 * it errs on the large side; the worst axis is taken for all.
 */
function strayDensities(
  track: Pick<Track, 'tNs' | 'count' | 'positionEnuM' | 'velocityEnuMps' | 'enuFromBody' | 'velocityRecorded'>,
  periodNs: number,
  longestBridgeNs: number,
): { accelerationDensity: number; angularDensity: number } {
  const { tNs, count, positionEnuM: p, velocityEnuMps: v, enuFromBody } = track;
  const reach = Math.max(1, Math.min(Math.floor((count - 1) / 2), Math.round(0.5e9 / periodNs)));
  const stride = Math.max(1, Math.floor((count - 2 * reach) / 2000));
  const square = [0, 0, 0];
  const turnSquare = [0, 0, 0];
  let used = 0;
  for (let i = reach; i < count - reach; i += stride) {
    const a = i - reach;
    const b = i + reach;
    const lengthNs = tNs[b] - tNs[a];
    // A window that a gap runs through says nothing of one second.
    if (lengthNs > Math.max(longestBridgeNs, 3 * reach * periodNs)) continue;
    const lengthS = lengthNs * 1e-9;
    const at = (tNs[i] - tNs[a]) / lengthNs;
    const unitVariance = bridgeFactor(at, track.velocityRecorded) * lengthS ** 3;
    const unitTurnVariance = bridgeFactor(at, false) * lengthS ** 3;
    const bridged = hermite(p, v, a, b, lengthS, at);
    const turn: Vec3 = vectorBetween(
      slerp(quaternionAt(enuFromBody, a), quaternionAt(enuFromBody, b), at),
      quaternionAt(enuFromBody, i),
    );
    for (let k = 0; k < 3; k++) {
      square[k] += (bridged.position[k] - p[3 * i + k]) ** 2 / unitVariance;
      turnSquare[k] += turn[k] ** 2 / unitTurnVariance;
    }
    used++;
  }
  const worst = (sums: number[]) => (used === 0 ? 0 : Math.max(...sums) / used);
  return { accelerationDensity: worst(square), angularDensity: worst(turnSquare) };
}
