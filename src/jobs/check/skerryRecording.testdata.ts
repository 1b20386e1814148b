import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import sharp from 'sharp';
import { onTestFinished } from 'vitest';
import type { Llh } from '../../earth/Llh.ts';
import { localFrameAt } from '../../earth/LocalFrame.ts';
import { randomFrom } from '../../maths/random.ts';
import { fileSink } from '../../recording/ByteSink.ts';
import type { FlightDescription } from '../../recording/FlightDescription.ts';
import { type EventsOfFrame, RecordingWriter } from '../../recording/recorder/RecordingWriter.ts';

/**
 * A recording of events for tests: to and fro along a line of towers in the open sea, 30 m beside it, the camera looking
 * out to the right, swaying as aircraft do. Events are drawn by a plain pinhole; of the measuring side only the geodesy and
 * the writer of recordings are used. Sources burn on some of the clamps.
 */
export const RATE_HZ = 50;
const WIDTH_PX = 640;
const HEIGHT_PX = 512;
const FOCAL_PX = 700;
const STANDOFF_M = 30;
const SPEED_MPS = 15;
const ABOVE_FOOT_M = 26;
/** Unequal spans: a slip along the line must not bring every tower onto the next. */
const TOWERS_M = [0, 243, 551];
const ARMS = [
  { phase: 'A', rightM: 4.2, levelM: 22 },
  { phase: 'B', rightM: -4.6, levelM: 26.5 },
  { phase: 'C', rightM: 3.8, levelM: 31 },
] as const;
const SOURCES = [
  [0, 'A'],
  [0, 'C'],
  [1, 'B'],
  [1, 'C'],
  [2, 'A'],
  [2, 'B'],
] as const;
const OVERRUN_M = 90;
const PASS_M = TOWERS_M[TOWERS_M.length - 1] + 2 * OVERRUN_M;
const PASS_S = PASS_M / SPEED_MPS;
const TURN_S = (Math.PI * STANDOFF_M) / SPEED_MPS;
export const LEG_S = PASS_S + TURN_S;

export interface RecordedRow {
  tNs: number;
  latDeg: number;
  lonDeg: number;
  heightM: number;
  rollDeg: number;
  pitchDeg: number;
  headingDeg: number;
}

export interface SkerryOptions {
  /** Where the first tower stands: longitude, latitude, ellipsoidal height of its foot. */
  readonly origin?: Llh;
  readonly seconds?: number;
  readonly seed?: number;
  /** What is done to the rows of the trajectory before they are written; null leaves one out. */
  readonly slip?: (row: RecordedRow) => RecordedRow | null;
  /** What is done to the places of the line before they are written. */
  readonly lineSlip?: (llh: Llh) => Llh;
  /** Events a frame of each source; 0 for a flight without. */
  readonly eventsOfSource?: number;
  /** Amplitude of the sway, degrees; 0 flies as on rails. */
  readonly swayDeg?: number;
  readonly imagePixels?: readonly [number, number];
  /** Seconds of trajectory before the first frame and after the last; default half a second. */
  readonly lead?: number;
  readonly folder?: string;
}

export interface SkerryFiles {
  readonly recording: string;
  readonly rig: string;
  readonly line: string;
}

/** Place, and how the body is turned (degrees), seconds after the first frame. */
export function poseAt(
  s: number,
  swayDeg: number,
): { east: number; north: number; up: number; roll: number; pitch: number; heading: number } {
  const leg = Math.floor(s / LEG_S);
  const t = s - leg * LEG_S;
  const turning = Math.max(0, t - PASS_S) / TURN_S;
  // Odd legs go back on the other side; the turn is half a circle about the end of the line.
  const way = leg % 2 === 0 ? 1 : -1;
  const along = Math.min(t, PASS_S) * SPEED_MPS - OVERRUN_M;
  const angle = turning * Math.PI;
  const atEnd = (x: number): number => (way > 0 ? x : TOWERS_M[TOWERS_M.length - 1] - x);
  // Eastwards north of the line, so that the line is to the right.
  const east = atEnd(along + STANDOFF_M * Math.sin(angle));
  const north = way * STANDOFF_M * Math.cos(angle);
  const course = (way > 0 ? 90 : 270) + turning * 180;
  const wave = (period: number, phase: number): number => Math.sin((2 * Math.PI * s) / period + phase);
  return {
    east,
    north: north + 0.4 * wave(17.3, 1),
    up: ABOVE_FOOT_M + 0.5 * wave(23.1, 2),
    roll: swayDeg * (0.8 * wave(3.7, 0.3) + 0.4 * wave(1.31, 1.9)),
    pitch: swayDeg * (0.7 * wave(4.9, 2.2) + 0.3 * wave(1.73, 0.7)),
    heading: (((course + swayDeg * (0.9 * wave(6.1, 1.1) + 0.4 * wave(2.03, 2.9))) % 360) + 360) % 360,
  };
}

const RAD = Math.PI / 180;

/** Camera axes (x right, y down, z out to the right of the body) of a point, by the three turns written out. */
function inCamera(
  pose: ReturnType<typeof poseAt>,
  east: number,
  north: number,
  up: number,
): readonly [number, number, number] {
  const n = north - pose.north;
  const e = east - pose.east;
  const d = -(up - pose.up);
  const [ch, sh] = [Math.cos(pose.heading * RAD), Math.sin(pose.heading * RAD)];
  const [x1, y1] = [ch * n + sh * e, -sh * n + ch * e];
  const [cp, sp] = [Math.cos(pose.pitch * RAD), Math.sin(pose.pitch * RAD)];
  const [x2, z2] = [cp * x1 - sp * d, sp * x1 + cp * d];
  const [cr, sr] = [Math.cos(pose.roll * RAD), Math.sin(pose.roll * RAD)];
  const [y3, z3] = [cr * y1 + sr * z2, -sr * y1 + cr * z2];
  return [-x2, z3, y3];
}

export async function writeSkerryRecording(options: SkerryOptions = {}): Promise<SkerryFiles> {
  const origin = options.origin ?? [-31.9, 44.4, 57];
  const frame = localFrameAt(origin);
  const seconds = options.seconds ?? 2 * LEG_S;
  const swayDeg = options.swayDeg ?? 1;
  const random = randomFrom(options.seed ?? 21);
  const folder = options.folder ?? (await mkdtemp(join(tmpdir(), 'corposant-skerry-')));
  if (options.folder === undefined) onTestFinished(() => rm(folder, { recursive: true, force: true }));
  const llh = (e: number, n: number, u: number): Llh => frame.llhFromEnu([e, n, u]);
  const lineSlip = options.lineSlip ?? ((x: Llh) => x);
  const rigJson = JSON.stringify(rig);
  const description: FlightDescription = {
    format: 'corposant-flight',
    version: 1,
    name: 'Skerry line',
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
      colour: { index: 'colour.csv', encoding: 'jpeg', widthPx: 640, heightPx: 512, bitDepth: 8, frameRateHz: 5 },
    },
    trajectory: { file: 'trajectory.csv', datum: 'EPSG:4979', heightKind: 'ellipsoidal' },
    conditions: { temperatureC: 12, pressureHPa: 1010, relativeHumidityPct: 70, mainsHz: 50, weather: 'dry' },
  };
  const recording = join(folder, 'skerry.mcap');
  const sink = await fileSink(recording);
  const writer = await RecordingWriter.begin(sink, { software: 'test', description, rigJson, rigHash: 'r' }, () => {});
  const startNs = 60e9; // so that rows may be shifted back
  const frames = Math.floor(seconds * RATE_HZ);
  const grey = { create: { width: 640, height: 512, channels: 3 as const, background: '#777' } };
  const jpeg = await sharp(grey).jpeg().toBuffer();
  const [imageWidth, imageHeight] = options.imagePixels ?? [WIDTH_PX, HEIGHT_PX];
  const noise = Uint8Array.from({ length: 2 * imageWidth * imageHeight }, () => Math.round(10 + 1.2 * random.normal()));
  const drawn = eventsOf(frames, options.seed ?? 21, swayDeg, options.eventsOfSource ?? 2);
  const lead = options.lead ?? 0.5;
  const first = -Math.round(lead * 100);
  let pose = first;
  for (let f = 0; f < frames; f++) {
    const s = f / RATE_HZ;
    const tNs = startNs + Math.round(s * 1e9);
    for (; pose / 100 <= s + 0.1; pose++) await writePose(pose / 100, pose - first);
    const at = { tNs, exposureNs: 2_000_000, gain: 1, segment: 0 };
    await writer.uvEvents(at, f, drawn[f]);
    const keep = f % RATE_HZ === 0;
    await writer.fate('uv', at, f, keep ? 'kept: one a second' : 'reduced to events');
    if (keep) {
      const from = Math.floor(random.uniform() * imageWidth * imageHeight);
      const data = noise.slice(from, from + imageWidth * imageHeight);
      await writer.uvImage(at, f, {
        widthPx: WIDTH_PX,
        heightPx: HEIGHT_PX,
        data: data.subarray(0, WIDTH_PX * HEIGHT_PX),
      });
    }
    if (f % 10 === 0) {
      const colour = { ...at, tNs: tNs + 4_000_000, exposureNs: 1_000_000, gain: 0 };
      await writer.fate('colour', colour, f / 10, keep ? 'kept: one a second' : 'not kept: no glow near');
      if (keep) await writer.colourImage(colour, f / 10, 'jpeg', jpeg);
    }
  }
  for (; pose / 100 <= seconds + lead; pose++) await writePose(pose / 100, pose - first);
  await writer.finish({ summary: '{}', finder: 'null' });
  await sink.close();

  async function writePose(s: number, number: number): Promise<void> {
    const p = poseAt(s, swayDeg);
    const [lonDeg, latDeg, heightM] = llh(p.east, p.north, p.up);
    const straight = {
      tNs: startNs + Math.round(s * 1e9),
      latDeg,
      lonDeg,
      heightM,
      rollDeg: p.roll,
      pitchDeg: p.pitch,
      headingDeg: p.heading,
    };
    const row = options.slip ? options.slip(straight) : straight;
    if (row) await writer.pose({ ...row, velocityNedMps: [], sigma: [0.02, 0.02, 0.03, 0.01, 0.01, 0.02] }, number);
  }

  await writeFile(join(folder, 'rig.json'), rigJson);
  await writeFile(join(folder, 'line.json'), JSON.stringify(lineAt((e, n, u) => lineSlip(llh(e, n, u)))));
  return { recording, rig: join(folder, 'rig.json'), line: join(folder, 'line.json') };
}

let drawnBefore: { readonly key: string; readonly events: readonly EventsOfFrame[] } | null = null;

/** Events of all frames. Slips of the trajectory and of the line leave them alone, so that they are drawn once. */
function eventsOf(frames: number, seed: number, swayDeg: number, eventsOfSource: number): readonly EventsOfFrame[] {
  const key = [frames, seed, swayDeg, eventsOfSource].join();
  if (drawnBefore?.key === key) return drawnBefore.events;
  const random = randomFrom(seed);
  const lit = SOURCES.map(([tower, phase]) => {
    const arm = ARMS.find((a) => a.phase === phase) as (typeof ARMS)[number];
    return [TOWERS_M[tower], -arm.rightM, arm.levelM - 2] as const;
  });
  const events = Array.from({ length: frames }, (_, f): EventsOfFrame => {
    const xPx: number[] = [];
    const yPx: number[] = [];
    const place = (x: number, y: number): void => {
      if (x < 0 || y < 0 || x > WIDTH_PX - 1 || y > HEIGHT_PX - 1) return;
      xPx.push(x);
      yPx.push(y);
    };
    for (let n = random.poisson(3); n > 0; n--) place(random.uniform() * WIDTH_PX, random.uniform() * HEIGHT_PX);
    const truth = poseAt(f / RATE_HZ, swayDeg);
    for (const [e, n, u] of lit) {
      const [x, y, z] = inCamera(truth, e, n, u);
      if (!(z > 5 && z < 120)) continue;
      for (let k = random.poisson(eventsOfSource * (30 / z) ** 2); k > 0; k--)
        place(
          (WIDTH_PX - 1) / 2 + (FOCAL_PX * x) / z + 0.4 * random.normal(),
          (HEIGHT_PX - 1) / 2 + (FOCAL_PX * y) / z + 0.4 * random.normal(),
        );
    }
    return {
      xPx: Float64Array.from(xPx),
      yPx: Float64Array.from(yPx),
      charge: Float32Array.from(xPx, () => 125 * random.gamma(2)),
      sigmaPx: new Float32Array(xPx.length).fill(0.15),
      flags: new Uint8Array(xPx.length),
    };
  });
  drawnBefore = { key, events };
  return events;
}

function lineAt(llh: (e: number, n: number, u: number) => Llh) {
  const towers = TOWERS_M.map((east, i) => ({ id: `S${i + 1}`, east }));
  return {
    format: 'corposant-line',
    version: 1,
    name: 'Skerry line',
    owner: 'invented',
    voltageKv: 220,
    structures: towers.map(({ id, east }) => ({
      id,
      kind: 'suspension',
      positionLlh: llh(east, 0, 0),
      sigmaM: 0.05,
      heightM: 36,
    })),
    components: towers.flatMap(({ id, east }) =>
      ARMS.flatMap(({ phase, rightM, levelM }) => {
        const owner = { structureId: id, circuit: '1', phase, sigmaM: 0.05 };
        // Looking east, right is south.
        const [top, low] = [llh(east, -rightM, levelM), llh(east, -rightM, levelM - 2)];
        return [
          { id: `${id}-${phase}-string`, kind: 'insulator string', ...owner, startLlh: top, endLlh: low, discs: 12 },
          { id: `${id}-${phase}-clamp`, kind: 'clamp', ...owner, startLlh: low, endLlh: low },
        ];
      }),
    ),
    conductors: towers.slice(1).flatMap((to, i) =>
      ARMS.map(({ phase, rightM, levelM }) => ({
        id: `${towers[i].id}..${to.id} ${phase}`,
        kind: 'phase',
        fromStructureId: towers[i].id,
        toStructureId: to.id,
        circuit: '1',
        phase,
        startLlh: llh(towers[i].east, -rightM, levelM - 2),
        endLlh: llh(to.east, -rightM, levelM - 2),
        parameterM: 1700,
        sagSigmaM: 0.1,
        bundle: { count: 1, spacingM: 0, radiusM: 0.015 },
      })),
    ),
  };
}

const rig = {
  format: 'corposant-rig',
  version: 1,
  id: 'guillemot',
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
      gainCurve: [{ gain: 1, meanChargeDn: 250 }],
      apertureMm: 20,
      bandNm: [240, 280],
      eventsPerPhoton: 0.08,
    },
    colour: {
      widthPx: 640,
      heightPx: 512,
      bitDepth: 8,
      pixelPitchUm: 6,
      focalMm: 4.2,
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
