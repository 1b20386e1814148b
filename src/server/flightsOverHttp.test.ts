import { mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { ABOUT, temporaryFolder } from '../campaign/smallCampaign.testdata.ts';
import { localFrameAt } from '../earth/LocalFrame.ts';
import { writePhotonEvents } from '../recording/photonEventTable.ts';
import {
  FRAMES,
  frameTimeNs,
  HEIGHT_PX,
  pixelOf,
  rigJson,
  WIDTH_PX,
  writeSmallFlight,
} from '../recording/smallRecording.testdata.ts';
import { trajectoryAnswer } from './api/campaign.ts';
import { framesAnswer } from './api/flights.ts';
import { overlayPoint } from './api/registration.ts';
import type { OpenedDesk } from './openDesk.ts';
import { readColumns } from './readColumns.testing.ts';
import { smallCampaignFile, startedDesk } from './smallDesk.testdata.ts';

const FLIGHT = `/api/flights/${encodeURIComponent('Tern Reach, west side')}`;

function rigFile(): string {
  const file = join(temporaryFolder(), 'rig.json');
  writeFileSync(file, JSON.stringify(rigJson()));
  return file;
}

const ask = (desk: OpenedDesk, path: string) => fetch(new URL(path, desk.origin));
const json = async (desk: OpenedDesk, path: string): Promise<unknown> => (await ask(desk, path)).json();

test('frames come as they were recorded: times, pixels, image files', async () => {
  const desk = await startedDesk({ flightPaths: [await writeSmallFlight()], rigFile: rigFile() });
  const frames = framesAnswer.parse(await json(desk, `${FLIGHT}/frames`));
  expect(frames.uv.tNs).toEqual(Array.from({ length: FRAMES }, (_, i) => frameTimeNs(i)));
  expect(frames.uv.settings).toEqual([{ from: 0, exposureNs: 18_000_000, gain: 1.5 }]);
  expect([frames.uv.withImage, frames.colour.tNs]).toEqual([null, [frameTimeNs(2)]]);
  const uv = await ask(desk, `${FLIGHT}/frames/uv/3`);
  expect(['x-width-px', 'x-height-px', 'x-bit-depth', 'x-gain'].map((name) => uv.headers.get(name))).toEqual([
    String(WIDTH_PX),
    String(HEIGHT_PX),
    '8',
    '1.5',
  ]);
  expect([...new Uint8Array(await uv.arrayBuffer())]).toEqual(
    Array.from({ length: WIDTH_PX * HEIGHT_PX }, (_, k) => pixelOf(3, k)),
  );
  const colour = await ask(desk, `${FLIGHT}/frames/colour/0`);
  expect([colour.headers.get('content-type'), (await colour.arrayBuffer()).byteLength]).toEqual(['image/png', 1]);
  expect((await ask(desk, `${FLIGHT}/frames/uv/${FRAMES}`)).status).toBe(404);
  expect((await ask(desk, `${FLIGHT}/frames/uv/-1`)).status).toBe(400);
});

test('several uv frames asked for at once come each with its own pixels', async () => {
  const desk = await startedDesk({ flightPaths: [await writeSmallFlight()] });
  const all = await Promise.all(
    [5, 0, 3, 1, 4, 2].map(async (i) => {
      const bytes = new Uint8Array(await (await ask(desk, `${FLIGHT}/frames/uv/${i}`)).arrayBuffer());
      return bytes.every((value, k) => value === pixelOf(i, k));
    }),
  );
  expect(all).toEqual([true, true, true, true, true, true]);
});

test('poses put the camera where trajectory and lever arm put it, with rotations that are such', async () => {
  const desk = await startedDesk({ flightPaths: [await writeSmallFlight()], rigFile: rigFile() });
  const poses = readColumns(await (await ask(desk, `${FLIGHT}/poses`)).arrayBuffer());
  expect(poses.head.count).toBe(FRAMES + 1);
  expect(poses.column('stream')).toEqual([0, 0, 0, 0, 0, 0, 1]);
  expect(poses.column('frame')).toEqual([0, 1, 2, 3, 4, 5, 0]);
  // At the first frame, 1 s, the trajectory is 5 m north of its start; the lever arm is 0.39 m long.
  const frame = localFrameAt(ABOUT.originLlh);
  const body = frame.enuFromLlh([-3.9, 57.2 + 5 / 111_200, 212.5 + Math.sin(1)]);
  const origin = poses.column('origin_enu_m');
  const apartM = Math.hypot(origin[0] - body[0], origin[1] - body[1], origin[2] - body[2]);
  // The trajectory is written to the millimetre and 0.1 mm of latitude, and smoothed between rows 0.25 m apart.
  expect(Math.abs(apartM - Math.hypot(0.3, 0.12, 0.22))).toBeLessThan(0.01);
  const r = poses.column('uv_from_enu').slice(0, 9);
  for (let i = 0; i < 3; i++)
    for (let j = 0; j < 3; j++) {
      const product = [0, 1, 2].reduce((sum, k) => sum + r[3 * i + k] * r[3 * j + k], 0);
      expect(product).toBeCloseTo(i === j ? 1 : 0, 12);
    }
  // The nose points 1.5° from north and the camera to the right of it: its axis looks east.
  expect(r[6]).toBeGreaterThan(0.99);
  // The same instant, the same pose, whichever stream asks.
  expect(origin.slice(18, 21)).toEqual(origin.slice(6, 9));
});

test('photon events come by time, from the table beside the campaign, each in its row', async () => {
  const campaignFile = smallCampaignFile();
  const flightPaths = [await writeSmallFlight()];
  const desk = await startedDesk({ campaignFile, flightPaths });
  expect((await ask(desk, `${FLIGHT}/events`)).status).toBe(404);
  const n = 9;
  const count = (value: (i: number) => number) => Array.from({ length: n }, (_, i) => value(i));
  mkdirSync(campaignFile.replace('.gpkg', '.events'));
  await writePhotonEvents(campaignFile.replace('.gpkg', '.events/Tern-Reach-west-side.parquet'), {
    count: n,
    frame: Int32Array.from(count((i) => Math.floor(i / 2))),
    tNs: Float64Array.from(count((i) => frameTimeNs(Math.floor(i / 2)))),
    xPx: Float64Array.from(count((i) => 0.25 + i)),
    yPx: Float64Array.from(count((i) => 0.5 + 2 * i)),
    charge: Float32Array.from(count((i) => 100 + i)),
    sigmaPx: new Float32Array(n).fill(0.3),
    flags: Uint8Array.from(count((i) => 1 << (i % 7))),
  });
  const part = readColumns(
    await (await ask(desk, `${FLIGHT}/events?from=${frameTimeNs(1)}&to=${frameTimeNs(3)}`)).arrayBuffer(),
  );
  expect(part.head.count).toBe(4);
  expect([
    part.column('frame'),
    part.column('x_px'),
    part.column('y_px'),
    part.column('charge'),
    part.column('flags'),
  ]).toEqual([
    [1, 1, 2, 2],
    [2.25, 3.25, 4.25, 5.25],
    [4.5, 6.5, 8.5, 10.5],
    [102, 103, 104, 105],
    [4, 8, 16, 32],
  ]);
  expect(part.column('t_ns')).toEqual([1, 1, 2, 2].map(frameTimeNs));
  expect(readColumns(await (await ask(desk, `${FLIGHT}/events`)).arrayBuffer()).head.count).toBe(n);
});

test('the track of a recording has times, and places in the frame of the campaign', async () => {
  const desk = await startedDesk({ flightPaths: [await writeSmallFlight()] });
  const track = trajectoryAnswer.parse(await json(desk, `${FLIGHT}/trajectory`));
  expect([track.count, track.tNs?.[40]]).toEqual([400, 2e9]);
  const [east, north] = localFrameAt(ABOUT.originLlh).enuFromLlh([
    track.lonDeg[40],
    track.latDeg[40],
    track.heightM[40],
  ]);
  expect([track.eastM[40] - east, track.northM[40] - north]).toEqual([0, 0]);
});

test('nothing outside the recordings that were named is read, whatever the address or an index says', async () => {
  const flight = await writeSmallFlight({
    'colour.csv': `t_ns,file,exposure_ns\n${frameTimeNs(2)},../../../etc/hostname,2000000\n`,
  });
  const desk = await startedDesk({ flightPaths: [flight] });
  const answer = await ask(desk, `${FLIGHT}/frames/colour/0`);
  expect([answer.status, ((await answer.json()) as { type: string }).type]).toEqual([422, 'bad-input']);
  for (const path of [
    '/api/flights/..%2f..%2fetc/frames',
    '/api/flights/%2fetc/trajectory',
    '/..%2f..%2f..%2fetc%2fhostname',
    '/%2e%2e/%2e%2e/etc/hostname',
    '/api/tiles/..%2fcampaign.gpkg',
  ])
    expect([path, (await ask(desk, path)).status]).toEqual([path, 404]);
});

test('the table that a graphics processor takes gives the pixels of the model, at any range', async () => {
  const desk = await startedDesk({ rigFile: rigFile() });
  const { registrations } = (await json(desk, '/api/registrations')) as {
    registrations: { hash: string; which: string }[];
  };
  expect(registrations.map(({ which }) => which)).toEqual(['nominal']);
  const at = `/api/registration/${registrations[0].hash}`;
  const table = readColumns(await (await ask(desk, `${at}/table`)).arrayBuffer());
  const { rows, columns, stepPx, inverseRangeAtPerM } = table.head.about as Record<string, number>;
  expect(table.head.count).toBe(rows * columns);
  const nodes = table.column('nodes');
  for (const rangeM of [15, 40, 250]) {
    const [row, column] = [1, 2];
    const node = nodes.slice(6 * (row * columns + column), 6 * (row * columns + column) + 6);
    const d = 1 / rangeM - inverseRangeAtPerM;
    const point = overlayPoint.parse(
      await json(desk, `${at}/at?u=${column * stepPx}&v=${row * stepPx}&rangeM=${rangeM}`),
    );
    if (point.kind === 'refused') throw new Error(point.because);
    // Float32 keeps 1e-5 px here; the parabola in inverse range 1e-4 px.
    for (const axis of [0, 1])
      expect(Math.abs(node[axis] + d * (node[2 + axis] + d * node[4 + axis]) - point.colourPx[axis])).toBeLessThan(
        2e-4,
      );
  }
  expect((await ask(desk, `/api/registration/${'0'.repeat(64)}`)).status).toBe(404);
  expect((await ask(desk, '/api/registration/..%2frig.json')).status).toBe(400);
});
