import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { McapWriter } from '@mcap/core';
import { protobufFromDescriptor, protobufToDescriptor } from '@mcap/support';
import { expect, onTestFinished, test } from 'vitest';
import type { InputError } from '../../input/InputError.ts';
import { readMappedTrajectory } from './readMappedTrajectory.ts';

const EPOCH = { utc: '2026-05-12T06:30:00Z', scale: 'UTC' } as const;
const EPOCH_S = Date.parse(EPOCH.utc) / 1000;

interface Said {
  readonly topic: string;
  readonly schema: string;
  readonly schemaEncoding: string;
  readonly messageEncoding: string;
  readonly schemaData: Uint8Array;
  readonly messages: readonly { readonly tS: number; readonly data: Uint8Array }[];
}

/** An MCAP file of the library's own writer, without compression. */
async function recordingOf(channels: readonly Said[]): Promise<string> {
  const pieces: Uint8Array[] = [];
  let size = 0n;
  const writer = new McapWriter({
    writable: {
      position: () => size,
      write: async (bytes) => {
        pieces.push(bytes.slice());
        size += BigInt(bytes.byteLength);
      },
    },
  });
  await writer.start({ profile: '', library: 'test' });
  for (const c of channels) {
    const schemaId = await writer.registerSchema({ name: c.schema, encoding: c.schemaEncoding, data: c.schemaData });
    const channelId = await writer.registerChannel({
      topic: c.topic,
      messageEncoding: c.messageEncoding,
      schemaId,
      metadata: new Map(),
    });
    for (const [sequence, { tS, data }] of c.messages.entries()) {
      const time = BigInt(Math.round((EPOCH_S + tS) * 1e9));
      await writer.addMessage({ channelId, sequence, logTime: time, publishTime: time, data });
    }
  }
  await writer.end();
  const folder = await mkdtemp(join(tmpdir(), 'corposant-mcap-'));
  onTestFinished(() => rm(folder, { recursive: true, force: true }));
  await writeFile(join(folder, 'other.mcap'), Buffer.concat(pieces));
  return folder;
}

async function read(channels: readonly Said[], mapping: object) {
  const folder = await recordingOf(channels);
  await writeFile(
    join(folder, 'm.json'),
    JSON.stringify({ format: 'corposant-trajectory-mapping', version: 1, source: 'MCAP', ...mapping }),
  );
  return (await readMappedTrajectory(join(folder, 'other.mcap'), join(folder, 'm.json'), EPOCH)).table;
}

const json = (value: unknown): Uint8Array => new TextEncoder().encode(JSON.stringify(value));
const sec = (tS: number) => ({ sec: EPOCH_S + Math.floor(tS), nsec: Math.round((tS % 1) * 1e9) });

/** Heading east, level: the axes of forward-left-up and of east-north-up fall together. */
const poseJson = (tS: number, x: number, topic = '/pose'): { topic: string; tS: number; data: Uint8Array } => ({
  topic,
  tS,
  data: json({
    timestamp: sec(tS),
    frame_id: 'map',
    pose: { position: { x, y: 2, z: 3 }, orientation: { x: 0, y: 0, z: 0, w: 1 } },
  }),
});
const poses: Said = {
  topic: '/pose',
  schema: 'foxglove.PoseInFrame',
  schemaEncoding: 'jsonschema',
  messageEncoding: 'json',
  schemaData: json({}),
  messages: [0, 0.1, 0.2, 0.3].map((t) => poseJson(t, 10 * t)),
};
const SIGMA = { rollDeg: 0.01, pitchDeg: 0.01, headingDeg: 0.05 };
const attitude = { topic: '/pose', turns: 'east-north-up from forward-left-up', sigma: SIGMA };
const origin = { originLatDeg: 44.4, originLonDeg: -31.9, originHeightM: 60, sigmaM: 0.03 };

test('poses in local axes become places around their origin', async () => {
  const table = await read([poses], {
    position: { form: 'local east-north-up', topic: '/pose', ...origin },
    attitude,
    stamp: 'message',
    scale: 'UTC',
  });
  expect([...table.tNs]).toEqual([0, 1e8, 2e8, 3e8]);
  expect(table.headingDeg[1]).toBeCloseTo(90, 9);
  expect(table.heightM[0]).toBeCloseTo(63, 5);
  // A degree of longitude at 44.4 degrees is 79 665 m (WGS 84): 3 m from first to last.
  expect((table.lonDeg[3] - table.lonDeg[0]) * 79_665).toBeCloseTo(3, 3);
});

test('fixes whose fields an older schema numbers otherwise are found by their names, with their covariance', async () => {
  // Numbers of types and labels as in descriptor.proto.
  const [double, int64, int32, string, message, one, repeated] = [1, 3, 5, 9, 11, 1, 3];
  const set = {
    file: [
      {
        name: 'fix.proto',
        package: 'foxglove',
        syntax: 'proto3',
        messageType: [
          {
            name: 'Stamp',
            field: [
              { name: 'seconds', number: 1, type: int64, label: one },
              { name: 'nanos', number: 2, type: int32, label: one },
            ],
          },
          {
            name: 'LocationFix',
            field: [
              { name: 'frame_id', number: 1, type: string, label: one },
              { name: 'timestamp', number: 2, type: message, label: one, typeName: '.foxglove.Stamp' },
              { name: 'latitude', number: 3, type: double, label: one },
              { name: 'longitude', number: 4, type: double, label: one },
              { name: 'altitude', number: 5, type: double, label: one },
              { name: 'position_covariance', number: 6, type: double, label: repeated },
              { name: 'position_covariance_type', number: 7, type: int32, label: one },
            ],
          },
        ],
      },
    ],
  };
  const root = protobufFromDescriptor(set as unknown as Parameters<typeof protobufFromDescriptor>[0]);
  const { $type: descriptorSet } = protobufToDescriptor(root);
  const type = root.lookupType('foxglove.LocationFix');
  const fix = (tS: number) =>
    type
      .encode({
        timestamp: { seconds: EPOCH_S + Math.floor(tS), nanos: Math.round((tS % 1) * 1e9) },
        latitude: 44.4 + tS * 1e-4,
        longitude: -31.9,
        altitude: 10,
        position_covariance: [0.04, 0, 0, 0, 0.01, 0, 0, 0, 0.09],
        position_covariance_type: 2,
      })
      .finish();
  const fixes: Said = {
    topic: '/gnss',
    schema: 'foxglove.LocationFix',
    schemaEncoding: 'protobuf',
    messageEncoding: 'protobuf',
    schemaData: descriptorSet.encode(descriptorSet.fromObject(set)).finish(),
    messages: [0, 0.2].map((tS) => ({ tS, data: fix(tS) })),
  };
  const table = await read([fixes, poses], {
    position: { form: 'location', topic: '/gnss', height: 'EGM96' },
    attitude,
    stamp: 'message',
    scale: 'UTC',
  });
  // Poses are the denser; the last of them has no position around it.
  expect([...table.tNs]).toEqual([0, 1e8, 2e8]);
  expect(table.latDeg[1]).toBeCloseTo(44.40001, 8);
  // EGM96 at 44.4 N, 31.9 W: 57.623 m (cct of PROJ 9.1.1 with egm96_15.gtx).
  expect(Math.abs(table.heightM[0] - 10 - 57.623)).toBeLessThan(0.06);
  expect([table.sigma?.northM[0], table.sigma?.eastM[0], table.sigma?.downM[0]]).toEqual(
    [0.1, 0.2, 0.3].map((s) => expect.closeTo(s, 9)),
  );
  expect(table.notes?.join(' ')).toMatch(/1 times lie outside the other source/);
});

/** A message in CDR, built by the rules: every value aligned to its size, counted from behind the four bytes in front. */
function cdr(
  write: (put: {
    u8(x: number): void;
    u16(x: number): void;
    u32(x: number): void;
    f64(...x: number[]): void;
    text(s: string): void;
  }) => void,
): Uint8Array {
  const bytes: number[] = [];
  const put = (size: number, set: (view: DataView) => void): void => {
    while (bytes.length % size) bytes.push(0);
    const view = new DataView(new ArrayBuffer(size));
    set(view);
    bytes.push(...new Uint8Array(view.buffer));
  };
  const u32 = (x: number): void => put(4, (v) => v.setUint32(0, x, true));
  write({
    u8: (x) => put(1, (v) => v.setUint8(0, x)),
    u16: (x) => put(2, (v) => v.setUint16(0, x, true)),
    u32,
    f64: (...xs) => {
      for (const x of xs) put(8, (v) => v.setFloat64(0, x, true));
    },
    text: (s) => {
      u32(s.length + 1);
      for (const c of s) bytes.push(c.charCodeAt(0));
      bytes.push(0);
    },
  });
  return Uint8Array.from([0, 1, 0, 0, ...bytes]);
}

test('fixes and odometry of ROS 2 are read, whatever the lengths of their names', async () => {
  const header = (tS: number, frame: string) => (put: Parameters<Parameters<typeof cdr>[0]>[0]) => {
    put.u32(EPOCH_S + Math.floor(tS));
    put.u32(Math.round((tS % 1) * 1e9));
    put.text(frame);
  };
  const fixes: Said = {
    topic: '/fix',
    schema: 'sensor_msgs/msg/NavSatFix',
    schemaEncoding: 'ros2msg',
    messageEncoding: 'cdr',
    schemaData: json({}),
    messages: [0, 0.1, 0.2].map((tS) => ({
      tS,
      data: cdr((put) => {
        header(tS, 'antenna')(put);
        put.u8(2);
        put.u16(1);
        put.f64(44.4, -31.9 + tS * 1e-3, 65);
        put.f64(0.01, 0, 0, 0, 0.04, 0, 0, 0, 0.09);
        put.u8(2);
      }),
    })),
  };
  const odometry: Said = {
    topic: '/odom',
    schema: 'nav_msgs/msg/Odometry',
    schemaEncoding: 'ros2msg',
    messageEncoding: 'cdr',
    schemaData: json({}),
    messages: [0, 0.1, 0.2].map((tS) => ({
      tS,
      data: cdr((put) => {
        header(tS, 'odom')(put);
        put.text('base_link');
        put.f64(1, 2, 3);
        // A quarter turn to the left about up, from east: north.
        put.f64(0, 0, Math.SQRT1_2, Math.SQRT1_2);
        put.f64(...new Array<number>(36).fill(0));
      }),
    })),
  };
  const table = await read([fixes, odometry], {
    position: { form: 'location', topic: '/fix', height: 'ellipsoid' },
    attitude: { ...attitude, topic: '/odom' },
    stamp: 'message',
    scale: 'UTC',
  });
  expect(table.lonDeg[2]).toBeCloseTo(-31.8998, 9);
  expect(table.heightM[2]).toBeCloseTo(65, 6);
  expect(Math.min(table.headingDeg[1], 360 - table.headingDeg[1])).toBeLessThan(1e-6);
  expect(table.sigma?.northM[0]).toBeCloseTo(0.2, 9);
});

test('a topic that is not there, or tells no pose, is refused with what there is', async () => {
  const by = async (topic: string, channels: readonly Said[] = [poses]) =>
    (
      (await read(channels, {
        position: { form: 'local east-north-up', topic, ...origin },
        attitude,
        stamp: 'log',
        scale: 'UTC',
      }).catch((e: unknown) => e)) as InputError
    ).fault;
  expect((await by('/gnss')).found).toBe('no such topic; there are /pose (foxglove.PoseInFrame)');
  expect((await by('/pose', [{ ...poses, schema: 'foxglove.Log' }])).found).toBe(
    'messages of foxglove.Log in jsonschema',
  );
});
