/**
 * A flight of the invented world as events, without rendering a picture: photons fall where the world's own lens, path and
 * clock put them, each with the scatter of optics and of its own fit; the measuring side gets what its owner believes of rig,
 * lens and line, every error drawn from its stated deviation.
 */
import { CholeskyDecomposition, Matrix } from 'ml-matrix';
import type { Lens } from '../../src/camera/Lens.ts';
import { type LocalFrame, localFrameAt } from '../../src/earth/LocalFrame.ts';
import { corridorOf } from '../../src/line/corridorOf.ts';
import type { LineModel } from '../../src/line/LineModel.ts';
import { lineModelFromFile } from '../../src/line/lineModelFromFile.ts';
import { type Random, randomFrom } from '../../src/maths/random.ts';
import type { PhotonEvents } from '../../src/photon/PhotonEvents.ts';
import type { FrameEntry } from '../../src/recording/FrameIndex.ts';
import { type RigDescription, rigDescription } from '../../src/recording/RigDescription.ts';
import type { TrajectoryTable } from '../../src/recording/TrajectoryTable.ts';
import type { Mounting } from '../../src/rig/Mounting.ts';
import { mountingFromRig } from '../../src/rig/mountingFromRig.ts';
import type { EventRays, FramePoses, SearchCorridor } from '../../src/sighting/EventRays.ts';
import { framePoses } from '../../src/sighting/framePoses.ts';
import { raysOfEvents } from '../../src/sighting/raysOfEvents.ts';
import { describeLine } from '../../src/simulate/describe.ts';
import { TRAJECTORY_COLUMNS, trajectoryRows } from '../../src/simulate/trajectoryRows.ts';
import { flightExposures } from '../../src/simulate/uvSpots.ts';
import type { Discharge, World } from '../../src/simulate/World.ts';
import { buildTrack } from '../../src/trajectory/buildTrack.ts';
import type { Track } from '../../src/trajectory/Track.ts';
import { BENCH_LENS_COVARIANCE } from './benchLens.ts';

/** What the measuring side believes of a rig: the lens as a bench run would give it, and how sure of it. */
export interface BelievedRig {
  readonly rig: RigDescription;
  readonly lens: Lens;
  /** 9 x 9, row by row. */
  readonly lensCovariance: Float64Array;
  readonly mounting: Mounting;
}

export interface EventFlight {
  readonly frame: LocalFrame;
  readonly line: LineModel;
  readonly believed: BelievedRig;
  readonly entries: readonly FrameEntry[];
  readonly track: Track;
  readonly poses: FramePoses;
  readonly events: PhotonEvents;
  /** For each event: index of the source that gave most of it, -1 for the background. */
  readonly source: Int16Array;
  readonly rays: EventRays;
  readonly corridor: SearchCorridor;
  readonly discharges: readonly Discharge[];
}

const LENS_NAMES = ['fxPx', 'fyPx', 'cxPx', 'cyPx', 'k1', 'k2', 'p1', 'p2', 'k3'] as const;

/** A lens off the true one by a draw from what a bench run leaves uncertain. */
export function believeRig(world: World, random: Random): BelievedRig {
  const rig = rigDescription.parse(JSON.parse(JSON.stringify(world.rig.nominal)));
  const covariance = new Matrix(9, 9);
  BENCH_LENS_COVARIANCE.forEach((row, i) => {
    row.forEach((value, j) => {
      covariance.set(i, j, value);
      covariance.set(j, i, value);
    });
  });
  // Scaled to unit diagonal for the root, as the parameters are of unlike size.
  const scale = LENS_NAMES.map((_, i) => Math.sqrt(covariance.get(i, i)));
  const correlation = new Matrix(9, 9);
  for (let i = 0; i < 9; i++)
    for (let j = 0; j < 9; j++) correlation.set(i, j, covariance.get(i, j) / (scale[i] * scale[j]));
  const root = new CholeskyDecomposition(correlation);
  if (!root.isPositiveDefinite()) throw new Error('the covariance of the lens is not positive definite');
  const z = Matrix.columnVector(LENS_NAMES.map(() => random.normal()));
  const off = root.lowerTriangularMatrix.mmul(z).to1DArray();
  const lens = { ...world.rig.uvLens };
  LENS_NAMES.forEach((name, i) => {
    lens[name] += scale[i] * off[i];
  });
  return { rig, lens, lensCovariance: Float64Array.from(covariance.to1DArray()), mounting: mountingFromRig(rig) };
}

/** Scatter of the fit of one photon's spot, px; of several together less, by the root of their charge. */
const FIT_SIGMA_PX = 0.15;
/** Photons of one frame nearer than this to each other become one event, px: the size of a spot. */
const MERGE_PX = 2.5;

/** The photons of a flight as a finder would report them, in order of frame. */
function eventsOf(world: World, random: Random): { events: PhotonEvents; source: Int16Array } {
  const { uvTimes } = world.flight;
  const { widthPx, heightPx } = world.rig.nominal.cameras.uv;
  const exposureOf = flightExposures(world);
  const rows: { frame: number; x: number; y: number; charge: number; sigma: number; source: number }[] = [];
  for (let frame = 0; frame < uvTimes.tNs.length; frame++) {
    const { spots, gain } = exposureOf(frame);
    const single = world.rig.nominal.cameras.uv.gainCurve.find((p) => p.gain >= gain)?.meanChargeDn ?? 1;
    const groups: { x: number; y: number; charge: number; source: number }[] = [];
    for (let i = 0; i < spots.count; i++) {
      const [x, y, charge] = [spots.xPx[i], spots.yPx[i], spots.chargeDn[i]];
      if (x < 0 || y < 0 || x > widthPx - 1 || y > heightPx - 1) continue;
      const near = groups.find((g) => Math.hypot(g.x - x, g.y - y) < MERGE_PX);
      if (near) {
        const whole = near.charge + charge;
        near.x = (near.x * near.charge + x * charge) / whole;
        near.y = (near.y * near.charge + y * charge) / whole;
        near.charge = whole;
        near.source = Math.max(near.source, spots.source[i]);
      } else groups.push({ x, y, charge, source: spots.source[i] });
    }
    for (const { x, y, charge, source } of groups) {
      const sigma = FIT_SIGMA_PX * Math.min(3, Math.sqrt(single / charge));
      rows.push({ frame, x: x + sigma * random.normal(), y: y + sigma * random.normal(), charge, sigma, source });
    }
  }
  return {
    source: Int16Array.from(rows, (r) => r.source),
    events: {
      count: rows.length,
      frame: Int32Array.from(rows, (r) => r.frame),
      tNs: Float64Array.from(rows, (r) => uvTimes.tNs[r.frame]),
      xPx: Float64Array.from(rows, (r) => r.x),
      yPx: Float64Array.from(rows, (r) => r.y),
      charge: Float32Array.from(rows, (r) => r.charge),
      sigmaPx: Float32Array.from(rows, (r) => r.sigma),
      flags: new Uint8Array(rows.length),
    },
  };
}

function trajectoryOf(world: World): TrajectoryTable {
  const rows = trajectoryRows(world);
  const column = (name: (typeof TRAJECTORY_COLUMNS)[number]): Float64Array => {
    const at = TRAJECTORY_COLUMNS.indexOf(name);
    return Float64Array.from(rows, (row) => Number(row[at]));
  };
  return {
    tNs: column('t_ns'),
    latDeg: column('lat_deg'),
    lonDeg: column('lon_deg'),
    heightM: column('height_m'),
    rollDeg: column('roll_deg'),
    pitchDeg: column('pitch_deg'),
    headingDeg: column('heading_deg'),
    velocityNedMps: { north: column('v_north_mps'), east: column('v_east_mps'), down: column('v_down_mps') },
    sigma: {
      northM: column('sd_north_m'),
      eastM: column('sd_east_m'),
      downM: column('sd_down_m'),
      rollDeg: column('sd_roll_deg'),
      pitchDeg: column('sd_pitch_deg'),
      headingDeg: column('sd_heading_deg'),
    },
  };
}

/** Flies a world's flight and hands over what the measuring side would have of it. */
export function flyEvents(world: World, believed: BelievedRig, seed: number): EventFlight {
  const frame = localFrameAt(world.frame.origin);
  const line = lineModelFromFile(JSON.parse(JSON.stringify(describeLine(world))), 'line.json', frame);
  const { tNs, exposureNs } = world.flight.uvTimes;
  const entries = Array.from(
    tNs,
    (t, i): FrameEntry => ({ frame: i, tNs: t, file: '', offsetBytes: 0, exposureNs, gain: 6 }),
  );
  const track = buildTrack(trajectoryOf(world), frame);
  const { poses } = framePoses(track, believed.mounting, entries);
  const { events, source } = eventsOf(world, randomFrom(seed));
  return {
    frame,
    line,
    believed,
    entries,
    track,
    poses,
    events,
    source,
    rays: raysOfEvents(events, poses, believed.lens, believed.rig.cameras.uv.blurSigmaPx),
    corridor: corridorOf(line, { radiusM: 3, nearestM: 8, farthestM: 120 }),
    discharges: world.flight.sources.filter((s): s is Discharge => s.kind === 'discharge'),
  };
}
