import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { openSeries } from './openSeries.ts';

let folder: string;
beforeEach(async () => {
  folder = await mkdtemp(join(tmpdir(), 'series-'));
});
afterEach(() => rm(folder, { recursive: true }));

async function seriesOf(parts: readonly object[]): Promise<string> {
  await writeFile(join(folder, 'frames.raw'), new Uint8Array(4 * 16 * 16));
  await writeFile(
    join(folder, 'uv.csv'),
    `t_ns,file,offset_bytes,exposure_ns,gain\n${[0, 1, 2, 3].map((k) => `${k * 20_000_000},frames.raw,${k * 256},5000000,6`).join('\n')}\n`,
  );
  await writeFile(
    join(folder, 'series.json'),
    JSON.stringify({
      format: 'corposant-series',
      version: 1,
      name: 'bench of the ninth',
      rigId: 'petrel-1',
      epoch: { utc: '2026-05-12T06:30:00Z', scale: 'UTC' },
      streams: { uv: { index: 'uv.csv', encoding: 'raw', widthPx: 16, heightPx: 16, bitDepth: 8, frameRateHz: 50 } },
      parts,
    }),
  );
  return folder;
}

test('a series is opened with its parts', async () => {
  const series = await openSeries(
    await seriesOf([
      { name: 'dark', light: 'none', fromNs: 0, toNs: 20_000_000 },
      { name: 'even', light: 'even', fromNs: 40_000_000, toNs: 60_000_000 },
    ]),
  );
  expect(series.uvIndex).toHaveLength(4);
  expect(series.description.parts[1].light).toBe('even');
});

test('parts that overlap are refused by name: a frame has one kind of light', async () => {
  const opening = openSeries(
    await seriesOf([
      { name: 'dark', light: 'none', fromNs: 0, toNs: 40_000_000 },
      { name: 'even', light: 'even', fromNs: 40_000_000, toNs: 60_000_000 },
    ]),
  );
  await expect(opening).rejects.toThrow(/series\.json, parts\.1: found even, which overlaps dark/);
});

test('a part without a frame is refused with the times that there are', async () => {
  const opening = openSeries(await seriesOf([{ name: 'dark', light: 'none', fromNs: 1, toNs: 2 }]));
  await expect(opening).rejects.toThrow(
    /0 uv frames, expected an interval with frames in it; they run from 0 to 60000000/,
  );
});
