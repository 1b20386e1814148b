import { appendFileSync, mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { BEGUN_FILE, followFolder } from './followFolder.ts';
import type { IncomingItem } from './IncomingItem.ts';

const W = 16;
const H = 18;
const description = {
  format: 'corposant-flight',
  version: 1,
  name: 'a folder that grows',
  rigId: 'r',
  epoch: { utc: '2026-05-12T06:30:00Z', scale: 'UTC' },
  streams: {
    uv: { index: 'uv.csv', encoding: 'raw', widthPx: W, heightPx: H, bitDepth: 16, frameRateHz: 50 },
    colour: { index: 'colour.csv', encoding: 'jpeg', widthPx: W, heightPx: H, bitDepth: 8, frameRateHz: 5 },
  },
  trajectory: { file: 'trajectory.csv', datum: 'EPSG:4979', heightKind: 'ellipsoidal' },
  conditions: { temperatureC: 9, pressureHPa: 1016, relativeHumidityPct: 80, mainsHz: 50, weather: 'dry' },
};
const UV_HEAD = 't_ns,file,offset_bytes,exposure_ns,gain\n';
const uvRow = (i: number): string => `${20e6 * i},uv/0.raw,${2 * W * H * i},18000000,${i % 3}\n`;
const pixels = (i: number): Buffer => Buffer.from(new Uint16Array(W * H).fill(1000 + i).buffer);
const JPEG_ENDS = Buffer.of(0xff, 0xd8, 7, 7, 0xff, 0xd9);
const POSES = 't_ns,lat_deg,lon_deg,height_m,roll_deg,pitch_deg,heading_deg\n0,44,-31,160,1,2,3\n';

let folder: string;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'follow-'));
  mkdirSync(join(folder, 'uv'));
});
afterEach(() => rmSync(folder, { recursive: true }));

const put = (name: string, content: string | Buffer): void => writeFileSync(join(folder, name), content);
const add = (name: string, content: string | Buffer): void => appendFileSync(join(folder, name), content);

test('a folder being written gives each frame once, waits for rows and bytes that are late, and ends with flight.json', async () => {
  put(BEGUN_FILE, JSON.stringify(description));
  put('uv.csv', UV_HEAD + uvRow(0) + uvRow(1).slice(0, 9)); // half a row
  put('uv/0.raw', pixels(0).subarray(0, 100)); // part of a frame
  put('trajectory.csv', POSES);
  // What the cameras' recorder does next, one step at each pause and while bytes are waited for.
  const later = [
    () => add('uv/0.raw', pixels(0).subarray(100)),
    () => add('uv.csv', uvRow(1).slice(9)),
    () => add('uv/0.raw', pixels(1)),
    () => put('colour.csv', 't_ns,file,exposure_ns\n5000000,c.jpg,1000000\n'),
    () => put('c.jpg', JPEG_ENDS.subarray(0, 3)),
    () => put('c.jpg', JPEG_ENDS),
    () => add('uv.csv', uvRow(2).trimEnd()), // the last row without its end
    () => add('uv/0.raw', pixels(2)),
    () => put('flight.json', JSON.stringify(description)),
  ];
  const writing = setInterval(() => later.shift()?.(), 60);
  try {
    const incoming = await followFolder(folder);
    const levels: number[] = [];
    const kinds: string[] = [];
    for await (const item of incoming.items()) {
      if (item.kind === 'pause') continue;
      kinds.push(item.kind);
      if (item.kind === 'uv') levels.push(...new Set((await item.read()).data));
      if (item.kind === 'colour') expect(Buffer.from((await item.read()).bytes).equals(JPEG_ENDS)).toBe(true);
    }
    expect(levels).toEqual([1000, 1001, 1002]);
    expect(kinds.sort()).toEqual(['colour', 'pose', 'uv', 'uv', 'uv']);
  } finally {
    clearInterval(writing);
  }
});

test('of a complete folder the tables are merged by their stamps, and a row that is no row is told', async () => {
  put('flight.json', JSON.stringify(description));
  put('uv.csv', `${UV_HEAD}${uvRow(0)}${uvRow(1)}40000000,uv/0.raw\n${uvRow(3)}`);
  put('uv/0.raw', Buffer.concat([0, 1, 2, 3].map(pixels)));
  put('colour.csv', 't_ns,file,exposure_ns\n5000000,c.jpg,1000000\n25000000,none.jpg,1000000\n');
  put('c.jpg', JPEG_ENDS);
  put('trajectory.csv', `${POSES}30000000,44,-31,160,1,2,x\n`);
  const items: IncomingItem[] = [];
  for await (const item of (await followFolder(folder)).items()) items.push(item);
  const told = items.map((item) => {
    if (item.kind === 'uv' || item.kind === 'colour') return `${item.kind} ${item.tNs / 1e6}`;
    return 'what' in item ? `${item.kind} ${item.what.replace(folder, '').slice(0, 40)}` : item.kind;
  });
  expect(told).toEqual([
    'pose',
    'uv 0',
    'colour 5',
    'uv 20',
    "unreadable /uv.csv, row 4: '40000000,uv/0.raw' is n",
    'colour 25',
    "lost pose row 3, heading_deg: found 'x', expected ",
    'uv 60',
  ]);
  const missing = items.find((item) => item.kind === 'colour' && item.tNs === 25e6);
  await expect((missing as { read(): Promise<unknown> }).read()).rejects.toThrow(/none\.jpg: found no such file/);
});
