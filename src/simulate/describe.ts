import { add, type Vec3 } from '../maths/vec3.ts';
import { CHECKS, HOLE_SHARE } from './boardPattern.ts';
import type { InventedBench, InventedFlight, World } from './World.ts';

const atE10 = (x: number): number => Math.round(x * 1e10) / 1e10;
const at1E4 = (x: number): number => Math.round(x * 1e4) / 1e4;

/** Longitude, latitude, height with a resolution of 0.01 mm and 0.1 mm. */
export function writtenLlh(world: World, pointEnuM: Vec3): [number, number, number] {
  const [lon, lat, height] = world.frame.llhFromEnu(pointEnuM);
  return [atE10(lon), atE10(lat), at1E4(height)];
}

/** The content of line.json: the line as its owner has it on file, each thing off by what `sigmaM` says. */
export function describeLine(world: World): unknown {
  const { line } = world;
  const llh = (p: Vec3) => writtenLlh(world, p);
  return {
    format: 'corposant-line',
    version: 1,
    name: line.name,
    voltageKv: line.voltageKv,
    owner: line.owner,
    structures: line.structures.map((s) => ({
      id: s.id,
      kind: s.kind,
      positionLlh: llh(s.nominalFootEnuM),
      sigmaM: s.sigmaM,
      heightM: s.heightM,
    })),
    components: line.components.map((c) => ({
      id: c.id,
      kind: c.kind,
      ...(c.structureId !== null ? { structureId: c.structureId } : { spanId: c.spanId }),
      circuit: c.circuit,
      phase: c.phase,
      side: c.side,
      startLlh: llh(add(c.startEnuM, c.nominalShiftM)),
      endLlh: llh(add(c.endEnuM, c.nominalShiftM)),
      sigmaM: c.sigmaM,
      ...(c.discs > 0 ? { discs: c.discs } : {}),
      radiusM: c.radiusM,
    })),
    conductors: line.conductors.map((c) => ({
      id: c.id,
      kind: c.kind,
      fromStructureId: c.fromStructureId,
      toStructureId: c.toStructureId,
      circuit: c.circuit,
      phase: c.phase,
      startLlh: llh(c.nominal.startEnuM),
      endLlh: llh(c.nominal.endEnuM),
      sagM: at1E4(c.nominal.sagM),
      sagSigmaM: c.sagSigmaM,
      bundle: c.bundle,
    })),
  };
}

function describeStreams(world: World, of: InventedFlight | InventedBench): unknown {
  const { uv, colour } = world.rig.nominal.cameras;
  const [uvRate, colourRate] = 'rateHz' in of ? [of.rateHz, of.rateHz] : [of.uvRateHz, of.colourRateHz];
  return {
    uv: {
      index: 'uv.csv',
      encoding: 'raw',
      widthPx: uv.widthPx,
      heightPx: uv.heightPx,
      bitDepth: uv.bitDepth,
      frameRateHz: uvRate,
    },
    colour: {
      index: 'colour.csv',
      encoding: 'jpeg',
      widthPx: colour.widthPx,
      heightPx: colour.heightPx,
      bitDepth: 8,
      frameRateHz: colourRate,
    },
  };
}

export function describeFlight(world: World): unknown {
  const { flight, rig } = world;
  return {
    format: 'corposant-flight',
    version: 1,
    name: flight.name,
    rigId: rig.nominal.id,
    epoch: { utc: flight.epochUtc, scale: 'UTC' },
    streams: describeStreams(world, flight),
    trajectory: { file: 'trajectory.csv', datum: 'EPSG:4979', heightKind: 'ellipsoidal' },
    conditions: {
      temperatureC: flight.conditions.temperatureC,
      pressureHPa: flight.conditions.pressureHPa,
      relativeHumidityPct: flight.conditions.relativeHumidityPct,
      mainsHz: 50,
      weather: 'dry',
      // The nearest station reads to ten parts in a billion; the air at the line has its own.
      ozonePpb: Math.round(flight.conditions.ozonePpb / 10) * 10,
      ozoneSigmaPpb: 6,
      visibilityKm: 25,
      sun: 'clear',
    },
  };
}

function describeTarget({ board, statedMarks, marksSigmaM, boardSizeM }: InventedBench): unknown {
  if (board === 'discs') return { marks: statedMarks, sigmaM: marksSigmaM };
  if (board === 'rings')
    return {
      marks: statedMarks.map((m) => ({ ...m, holeDiameterM: HOLE_SHARE * m.discDiameterM })),
      sigmaM: marksSigmaM,
    };
  const { squareM, columns, rows, markerShare } = CHECKS[board];
  const firstCornerM = [at1E4(squareM - boardSizeM[0] / 2), at1E4(squareM - boardSizeM[1] / 2), 0];
  return {
    marks: statedMarks.map(({ id, lampM }) => ({ id, lampM })),
    pattern:
      board === 'chessboard'
        ? { kind: board, columns: columns - 1, rows: rows - 1, squareM, firstCornerM, firstSquare: 'dark' }
        : { kind: board, dictionary: '4x4_50', columns, rows, squareM, markerM: markerShare * squareM, firstCornerM },
    sigmaM: marksSigmaM,
  };
}

export function describeBench(world: World): unknown {
  const { bench, rig } = world;
  return {
    format: 'corposant-bench',
    version: 1,
    name: bench.name,
    rigId: rig.nominal.id,
    epoch: { utc: bench.epochUtc, scale: 'UTC' },
    streams: describeStreams(world, bench),
    target: describeTarget(bench),
    sweeps: bench.sweeps.map((s) => ({
      name: s.name,
      fromNs: Math.round((s.fromS - 0.05) * 1e9),
      toNs: Math.round((s.toS + 0.05) * 1e9),
      rangeM: Math.round(s.statedRangeM * 1000) / 1000,
      rangeSigmaM: s.rangeSigmaM,
    })),
    conditions: { temperatureC: 14 },
  };
}
