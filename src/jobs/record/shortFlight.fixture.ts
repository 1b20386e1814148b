import { createHash } from 'node:crypto';
import sharp from 'sharp';
import type { GreyFrame } from '../../camera/GreyFrame.ts';
import { randomFrom } from '../../maths/random.ts';
import { pulseHeight, ROOM_CAMERA, renderRoom, spotsAtRandom } from '../../photon/darkRoom.fixture.ts';
import type { ByteSink } from '../../recording/ByteSink.ts';
import type { FlightDescription } from '../../recording/FlightDescription.ts';
import type { RigDescription } from '../../recording/RigDescription.ts';
import type {
  Incoming,
  IncomingColour,
  IncomingItem,
  IncomingUv,
  PoseRow,
} from '../../recording/recorder/IncomingItem.ts';
import type { JobWatch } from '../JobWatch.ts';
import { RECORDER_DEFAULTS } from './Recorder.ts';
import type { RecordOptions } from './recordFlight.ts';

/** A flight of ten seconds in a dark room, for tests of the recorder: a source passes through the image from the fifth to the sixth second. */
export const UV_PERIOD_NS = 20_000_000;
const COLOUR_PERIOD_NS = 200_000_000;
const START_NS = 1_000_000_000;
export const UV_FRAMES = 500;
export const SOURCE_FRAMES = { from: 250, to: 300 };

const { widthPx, heightPx } = ROOM_CAMERA;
const lens = { widthPx, heightPx, pixelPitchUm: 20, focalMm: 20, focalSigmaMm: 0.1, shutter: 'global' } as const;

export const RIG: RigDescription = {
  format: 'corposant-rig',
  version: 1,
  id: 'room',
  cameras: {
    uv: {
      ...lens,
      bitDepth: 8,
      spotSigmaPx: ROOM_CAMERA.spotSigmaPx,
      blurSigmaPx: 0.9,
      saturationLevel: 255,
      gainCurve: [...ROOM_CAMERA.gainCurve],
      apertureMm: 15,
      bandNm: [240, 280],
      eventsPerPhoton: 0.08,
    },
    colour: { ...lens, bitDepth: 8 },
  },
  pair: { colourInUvM: [0.15, 0, 0.01], sigmaM: 0.003, rotationSigmaDeg: 0.5 },
  mounting: {
    uvInBodyM: [0.1, 0.1, 0.2],
    leverArmSigmaM: 0.01,
    yawDeg: 90,
    pitchDeg: 0,
    rollDeg: 0,
    boresightSigmaDeg: 0.02,
    timeOffsetSigmaMs: 0.3,
  },
};
export const RIG_JSON = JSON.stringify(RIG);
export const RIG_HASH = createHash('sha256').update(RIG_JSON).digest('hex');

export const DESCRIPTION: FlightDescription = {
  format: 'corposant-flight',
  version: 1,
  name: 'ten seconds in a dark room',
  rigId: 'room',
  epoch: { utc: '2026-05-12T06:30:00.25Z', scale: 'UTC' },
  streams: {
    uv: { index: 'uv.csv', encoding: 'raw', widthPx, heightPx, bitDepth: 8, frameRateHz: 50 },
    colour: { index: 'colour.csv', encoding: 'jpeg', widthPx, heightPx, bitDepth: 8, frameRateHz: 5 },
  },
  trajectory: { file: 'trajectory.csv', datum: 'EPSG:4979', heightKind: 'ellipsoidal' },
  conditions: { temperatureC: 9, pressureHPa: 1016, relativeHumidityPct: 80, mainsHz: 50, weather: 'dry' },
};

export const OPTIONS: RecordOptions = {
  ...RECORDER_DEFAULTS,
  rigFile: 'rig.json',
  outFile: 'out.mcap',
  realtime: false,
  idleS: 1,
};
export const QUIET: JobWatch = { progress: () => undefined, note: () => undefined };

export interface ShortFlight {
  readonly frames: readonly GreyFrame[];
  readonly jpegs: readonly Buffer[];
  readonly items: readonly IncomingItem[];
}

/** The flight as items in order of their stamps. Same seed, same pixels. */
export async function shortFlight(seed: number): Promise<ShortFlight> {
  const random = randomFrom(seed);
  const frames: GreyFrame[] = [];
  for (let i = 0; i < UV_FRAMES; i++) {
    const spots = spotsAtRandom(random, 0.25, 120);
    const shines = i >= SOURCE_FRAMES.from && i < SOURCE_FRAMES.to;
    for (let n = shines ? random.poisson(0.8) : 0; n > 0; n--)
      spots.push({
        xPx: 5 + 3 * (i - SOURCE_FRAMES.from) + 0.9 * random.normal(),
        yPx: 60 + 0.9 * random.normal(),
        charge: pulseHeight(random, 120),
      });
    frames.push(renderRoom(random, spots));
  }
  const jpegs: Buffer[] = [];
  for (let i = 0; i < 50; i++)
    jpegs.push(
      await sharp({ create: { width: widthPx, height: heightPx, channels: 3, background: { r: 4 * i, g: 90, b: 30 } } })
        .jpeg()
        .toBuffer(),
    );
  const uv = frames.map((frame, i) => uvItem(START_NS + i * UV_PERIOD_NS, frame));
  const colour = jpegs.map((bytes, i) => colourItem(START_NS + 3_000_000 + i * COLOUR_PERIOD_NS, bytes));
  const poses = Array.from({ length: 250 }, (_, i): IncomingItem => ({ kind: 'pose', row: pose(i) }));
  const items = [...poses, ...uv, ...colour].sort((a, b) => stampOf(a) - stampOf(b));
  return { frames, jpegs, items };
}

export const uvItem = (tNs: number, frame: GreyFrame): IncomingUv => ({
  kind: 'uv',
  tNs,
  exposureNs: 18_000_000,
  gain: 1,
  bytes: frame.data.byteLength,
  read: async () => frame,
});

const colourItem = (tNs: number, bytes: Buffer): IncomingColour => ({
  kind: 'colour',
  tNs,
  exposureNs: 1_500_000,
  bytes: bytes.length,
  read: async () => ({ format: 'jpeg', bytes }),
});

const pose = (i: number): PoseRow => ({
  tNs: 900_000_000 + i * 50_000_000,
  latDeg: 44.3 + i * 1e-6,
  lonDeg: -31.7,
  heightM: 160 + 0.01 * i,
  rollDeg: 0.1,
  pitchDeg: -0.2,
  headingDeg: 60,
  velocityNedMps: [7.4, 13.1, -0.2],
  sigma: [0.03, 0.02, 0.04, 0.01, 0.01, 0.03],
});

export const stampOf = (item: IncomingItem): number =>
  item.kind === 'pose' ? item.row.tNs : item.kind === 'uv' || item.kind === 'colour' ? item.tNs : Number.NaN;

/** The given items as a stream that waits for whoever reads it. */
export const streamOf = (items: readonly IncomingItem[]): Incoming => ({
  description: DESCRIPTION,
  async *items() {
    yield* items;
  },
});

/** A disk in memory, with an end where asked for; remembers after which lengths a write was acknowledged. */
export class MemoryDisk implements ByteSink {
  bytes = Buffer.alloc(0);
  readonly acknowledged: number[] = [];
  readonly #room: number;

  constructor(roomBytes = Infinity) {
    this.#room = roomBytes;
  }

  async write(bytes: Uint8Array): Promise<void> {
    const fits = Math.min(bytes.length, this.#room - this.bytes.length);
    this.bytes = Buffer.concat([this.bytes, bytes.subarray(0, fits)]);
    if (fits < bytes.length)
      throw Object.assign(new Error('ENOSPC: no space left on device, write'), { code: 'ENOSPC' });
    this.acknowledged.push(this.bytes.length);
  }
  async truncate(lengthBytes: number): Promise<void> {
    this.bytes = this.bytes.subarray(0, lengthBytes);
  }
  async sync(): Promise<void> {}
  async close(): Promise<void> {}
}
