import { mkdir, mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { onTestFinished } from 'vitest';
import { idealLens } from '../../camera/Lens.ts';
import { localFrameAt } from '../../earth/LocalFrame.ts';
import { type Random, randomFrom } from '../../maths/random.ts';
import { type RegistrationDocument, serialiseRegistration } from '../../rig/registrationFile.ts';

/**
 * A small flight for tests of the check: west along the south side of two towers, a turn, east along the north side, the
 * camera looking out to the right, 30 m from the line, 10 m/s, level, 160 x 128 px at 50 frames a second. A strong source
 * sits on either clamp. Rendered here with a plain pinhole; nothing of the measuring side but the geodesy is used.
 */
const WIDTH_PX = 160;
const HEIGHT_PX = 128;
const FOCAL_PX = 160;
const RATE_HZ = 50;
const STANDOFF_M = 30;
const SPEED_MPS = 10;
const UP_M = 20;
/** Half the length of a straight pass, and of the line. */
const HALF_PASS_M = 34;
const HALF_LINE_M = 15;
const PASS_S = (2 * HALF_PASS_M) / SPEED_MPS;
const TURN_S = (Math.PI * STANDOFF_M) / SPEED_MPS;
const FLIGHT_S = 2 * PASS_S + TURN_S;
export const FRAMES = Math.floor(FLIGHT_S * RATE_HZ);
const START_NS = 2_000_000_000;
const FRAME_NS = 1e9 / RATE_HZ;
const MEAN_CHARGE_DN = 250;

const frame = localFrameAt([-31.9, 44.4, 60]);

const rig = {
  format: 'corposant-rig',
  version: 1,
  id: 'tern-2',
  cameras: {
    uv: {
      widthPx: WIDTH_PX,
      heightPx: HEIGHT_PX,
      bitDepth: 8,
      pixelPitchUm: 20,
      focalMm: (FOCAL_PX * 20) / 1000,
      focalSigmaMm: 0.001,
      shutter: 'global',
      spotSigmaPx: 1.3,
      blurSigmaPx: 0.4,
      saturationLevel: 255,
      gainCurve: [
        { gain: 1, meanChargeDn: MEAN_CHARGE_DN },
        { gain: 2, meanChargeDn: 3 * MEAN_CHARGE_DN },
      ],
      apertureMm: 20,
      bandNm: [240, 280],
      eventsPerPhoton: 0.08,
    },
    colour: {
      widthPx: 200,
      heightPx: 160,
      bitDepth: 8,
      pixelPitchUm: 6,
      focalMm: 1.2,
      focalSigmaMm: 0.001,
      shutter: 'global',
    },
  },
  pair: { colourInUvM: [0.1, 0, 0], sigmaM: 0.003, rotationSigmaDeg: 0.1 },
  mounting: {
    uvInBodyM: [0, 0, 0],
    leverArmSigmaM: 0.01,
    yawDeg: 90,
    pitchDeg: 0,
    rollDeg: 0,
    boresightSigmaDeg: 0.02,
    timeOffsetSigmaMs: 0.2,
  },
};

const towers = [-HALF_LINE_M, HALF_LINE_M].map((east, i) => ({ id: `B${i + 1}`, east }));
const llh = (east: number, north: number, up: number): readonly number[] => frame.llhFromEnu([east, north, up]);
const line = {
  format: 'corposant-line',
  version: 1,
  name: 'Bay crossing',
  owner: 'invented',
  voltageKv: 110,
  structures: towers.map(({ id, east }) => ({
    id,
    kind: 'suspension',
    positionLlh: llh(east, 0, 0),
    sigmaM: 0.05,
    heightM: 24,
  })),
  components: towers.map(({ id, east }) => ({
    id: `${id}-clamp`,
    kind: 'clamp',
    structureId: id,
    circuit: '1',
    phase: 'A',
    startLlh: llh(east, 0, UP_M),
    endLlh: llh(east, 0, UP_M),
    sigmaM: 0.05,
  })),
  conductors: [
    {
      id: 'B1-B2-A',
      kind: 'phase',
      fromStructureId: 'B1',
      toStructureId: 'B2',
      circuit: '1',
      phase: 'A',
      startLlh: llh(-HALF_LINE_M, 0, UP_M),
      endLlh: llh(HALF_LINE_M, 0, UP_M),
      sagM: 0.4,
      sagSigmaM: 0.05,
      bundle: { count: 1, spacingM: 0, radiusM: 0.012 },
    },
  ],
};

/** The lenses as they are, known to a twentieth of a pixel: a good bench run. */
const registration: RegistrationDocument = {
  format: 'corposant-registration',
  version: 1,
  rigId: rig.id,
  model: {
    kind: 'two-camera',
    uv: idealLens(WIDTH_PX, HEIGHT_PX, FOCAL_PX),
    colour: idealLens(200, 160, 200),
    colourFromUv: { rotation: [1, 0, 0, 0, 1, 0, 0, 0, 1], translation: [-0.1, 0, 0] },
    residualField: [],
  },
  // Focal lengths and principal points in pixels, distortion and turn in ten thousandths, the baseline in millimetres.
  covariance: Array.from({ length: 576 }, (_, k) => {
    const i = k % 25 === 0 ? k / 25 : -1;
    return i < 0 ? 0 : i < 18 && i % 9 < 4 ? 0.05 ** 2 : i < 21 ? 1e-8 : 1e-6;
  }),
  support: {
    uvHullPx: [
      [0, 0],
      [WIDTH_PX - 1, 0],
      [WIDTH_PX - 1, HEIGHT_PX - 1],
      [0, HEIGHT_PX - 1],
    ],
    nearestM: 10,
    farthestM: 60,
  },
  ladder: { chosen: 'two-camera', foldedBy: 'sweeps', rows: [] },
  planeModels: [],
  statistics: {
    heldOutRmsPx: 0.1,
    noiseFloorPx: 0.1,
    statedNoiseFloorPx: 0.1,
    uvRmsPx: 0.1,
    colourRmsPx: 0.1,
    sigmaFactors: { uv: 1, colour: 1 },
    bySweep: [],
    framesUsed: 200,
    correspondences: 900,
    leftOut: [],
    outliers: [],
  },
  weaknesses: [],
  validity: { recordedUtc: '2026-05-11T10:00:00Z', temperatureC: null },
  provenance: { software: 'corposant 0', benchName: 'Bay bench', benchHash: 'b', rigHash: 'r' },
};

/** Where the aircraft is and heads, seconds after the first frame. */
function poseAt(s: number): { east: number; north: number; headingRad: number } {
  if (s < PASS_S) return { east: HALF_PASS_M - SPEED_MPS * s, north: -STANDOFF_M, headingRad: 1.5 * Math.PI };
  const turn = Math.min(1, (s - PASS_S) / TURN_S) * Math.PI;
  if (turn < Math.PI)
    return {
      east: -HALF_PASS_M - STANDOFF_M * Math.sin(turn),
      north: -STANDOFF_M * Math.cos(turn),
      headingRad: 1.5 * Math.PI + turn,
    };
  return { east: -HALF_PASS_M + SPEED_MPS * (s - PASS_S - TURN_S), north: STANDOFF_M, headingRad: 0.5 * Math.PI };
}

/** Pixel of a clamp for a camera that looks out to the right: image right is backwards, image down is down. */
function pixelOf(east: number, s: number): readonly [number, number] | null {
  const { east: e, north: n, headingRad } = poseAt(s);
  const forward = (east - e) * Math.sin(headingRad) - n * Math.cos(headingRad);
  const right = (east - e) * Math.cos(headingRad) + n * Math.sin(headingRad);
  if (!(right > 1)) return null;
  return [(WIDTH_PX - 1) / 2 - (FOCAL_PX * forward) / right, (HEIGHT_PX - 1) / 2];
}

function renderFrames(random: Random): Uint8Array {
  const pixels = WIDTH_PX * HEIGHT_PX;
  // Eight frames of noise, each time begun elsewhere: no two frames alike, and quick.
  const noise = Uint8Array.from({ length: 8 * pixels }, () => Math.round(10 + 1.2 * random.normal()));
  const out = new Uint8Array(FRAMES * pixels);
  const spot = (at: number, u: number, v: number): void => {
    const charge = (MEAN_CHARGE_DN / 2) * random.gamma(2);
    for (let y = Math.max(0, Math.round(v) - 6); y <= Math.min(HEIGHT_PX - 1, Math.round(v) + 6); y++)
      for (let x = Math.max(0, Math.round(u) - 6); x <= Math.min(WIDTH_PX - 1, Math.round(u) + 6); x++) {
        const light = (charge / (2 * Math.PI * 1.69)) * Math.exp(-((x - u) ** 2 + (y - v) ** 2) / (2 * 1.69));
        const k = at + y * WIDTH_PX + x;
        out[k] = Math.min(255, Math.round(out[k] + light));
      }
  };
  for (let f = 0; f < FRAMES; f++) {
    const at = f * pixels;
    const from = Math.floor(random.uniform() * 7 * pixels);
    out.set(noise.subarray(from, from + pixels), at);
    for (let n = random.poisson(3); n > 0; n--) spot(at, random.uniform() * WIDTH_PX, random.uniform() * HEIGHT_PX);
    for (const { east } of towers)
      for (let n = random.poisson(0.8); n > 0; n--) {
        // 2 ms of exposure: the photon comes at any instant of it.
        const px = pixelOf(east, f / RATE_HZ + (random.uniform() - 0.5) * 2e-3);
        if (px && px[0] > 0 && px[0] < WIDTH_PX - 1)
          spot(at, px[0] + 0.4 * random.normal(), px[1] + 0.4 * random.normal());
      }
  }
  return out;
}

let rendered: Uint8Array | null = null;

/** What is wrong with a copy of the flight. Times are seconds after the first frame. */
export interface Damage {
  /** Frames that are not in the index. */
  readonly framesMissing?: (s: number) => boolean;
  /** Trajectory rows that are not written. */
  readonly rowsMissing?: (s: number) => boolean;
  /** The time whose pose a row carries instead of its own. */
  readonly poseOf?: (s: number) => number;
  /** Sensor rows that always read 77. */
  readonly stuckRows?: readonly number[];
  /** The gain that the index tells. */
  readonly gain?: number;
  /** How far the camera is really turned against what rig.json says. */
  readonly yawSlipDeg?: number;
  /** Added to every colour stamp. */
  readonly colourLateS?: number;
}

export interface BayFlight {
  readonly flight: string;
  readonly rig: string;
  readonly line: string;
  readonly registration: string;
}

/** Writes the flight, seed 11, into a folder that goes when the test ends. */
export async function writeBayFlight(damage: Damage = {}): Promise<BayFlight> {
  rendered ??= renderFrames(randomFrom(11));
  const flight = await mkdtemp(join(tmpdir(), 'corposant-bay-'));
  onTestFinished(() => rm(flight, { recursive: true, force: true }));
  const pixels = WIDTH_PX * HEIGHT_PX;
  let frames = rendered;
  if (damage.stuckRows) {
    frames = rendered.slice();
    for (let f = 0; f < FRAMES; f++)
      for (const row of damage.stuckRows)
        frames.fill(77, f * pixels + row * WIDTH_PX, f * pixels + (row + 1) * WIDTH_PX);
  }
  const stamps = Array.from({ length: FRAMES }, (_, f) => f).filter((f) => !damage.framesMissing?.(f / RATE_HZ));
  const uvCsv = stamps.map((f) => `${START_NS + f * FRAME_NS},uv.raw,${f * pixels},2000000,${damage.gain ?? 1}`);
  const colour = Array.from({ length: Math.floor(FLIGHT_S * 2) }, (_, k) =>
    Math.round(START_NS + (k / 2 + 0.004 + (damage.colourLateS ?? 0)) * 1e9),
  );
  const rows: string[] = [];
  for (let k = -10; k <= FLIGHT_S * 100 + 10; k++) {
    const s = k / 100;
    if (damage.rowsMissing?.(s)) continue;
    const { east, north, headingRad } = poseAt(damage.poseOf?.(s) ?? s);
    const [lon, lat, height] = frame.llhFromEnu([east, north, UP_M]);
    // A hand's breadth of sway in the attitude: a column that never changes is a fault of its own.
    const sway = 1e-4 * Math.sin(7 * (damage.poseOf?.(s) ?? s));
    const headingDeg = ((headingRad * 180) / Math.PI + 360) % 360;
    rows.push(
      [
        START_NS + k * 1e7,
        lat.toFixed(10),
        lon.toFixed(10),
        height.toFixed(4),
        sway.toFixed(6),
        sway.toFixed(6),
        headingDeg.toFixed(6),
        '0.02,0.02,0.03,0.01,0.01,0.02',
      ].join(','),
    );
  }
  const description = {
    format: 'corposant-flight',
    version: 1,
    name: 'Bay crossing, noon',
    rigId: rig.id,
    epoch: { utc: '2026-05-12T06:30:00Z', scale: 'UTC' },
    streams: {
      uv: {
        index: 'uv.csv',
        encoding: 'raw',
        widthPx: WIDTH_PX,
        heightPx: HEIGHT_PX,
        bitDepth: 8,
        frameRateHz: RATE_HZ,
      },
      colour: { index: 'colour.csv', encoding: 'jpeg', widthPx: 200, heightPx: 160, bitDepth: 8, frameRateHz: 2 },
    },
    trajectory: { file: 'trajectory.csv', datum: 'EPSG:4979', heightKind: 'ellipsoidal' },
    conditions: { temperatureC: 12, pressureHPa: 1010, relativeHumidityPct: 70, mainsHz: 50, weather: 'dry' },
  };
  await mkdir(join(flight, 'colour'));
  const mounting = { ...rig.mounting, yawDeg: rig.mounting.yawDeg + (damage.yawSlipDeg ?? 0) };
  const files: Record<string, string | Uint8Array> = {
    'flight.json': JSON.stringify(description),
    'rig.json': JSON.stringify({ ...rig, mounting }),
    'line.json': JSON.stringify(line),
    'registration.json': serialiseRegistration(registration),
    'uv.raw': frames,
    'uv.csv': ['t_ns,file,offset_bytes,exposure_ns,gain', ...uvCsv, ''].join('\n'),
    'colour.csv': ['t_ns,file,exposure_ns', ...colour.map((t, k) => `${t},colour/${k}.jpg,1000000`), ''].join('\n'),
    'trajectory.csv': [
      't_ns,lat_deg,lon_deg,height_m,roll_deg,pitch_deg,heading_deg,sd_north_m,sd_east_m,sd_down_m,sd_roll_deg,sd_pitch_deg,sd_heading_deg',
      ...rows,
      '',
    ].join('\n'),
  };
  for (let k = 0; k < colour.length; k++) files[`colour/${k}.jpg`] = Uint8Array.of(0xff, 0xd8);
  for (const [name, content] of Object.entries(files)) await writeFile(join(flight, name), content);
  return {
    flight,
    rig: join(flight, 'rig.json'),
    line: join(flight, 'line.json'),
    registration: join(flight, 'registration.json'),
  };
}
