import { closeSync, openSync, writeSync } from 'node:fs';
import { mkdir, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { SERIES, SERIES_RATE_HZ, seriesExposures, seriesTruth } from './inventSeries.ts';
import type { Spots } from './Spots.ts';
import { uvSensor } from './uvSensor.ts';
import type { World } from './World.ts';

/** Puts the gain series of a world on disk, `series.json` last, and the truth beside it. */
export async function renderSeries(
  world: World,
  folder: string,
  onProgress: (done: number, total: number) => void = () => undefined,
): Promise<void> {
  const { widthPx, heightPx, bitDepth } = world.rig.nominal.cameras.uv;
  await mkdir(join(folder, 'uv'), { recursive: true });
  const bytes = new Uint8Array((widthPx * heightPx * bitDepth) / 8);
  // Raw files are little-endian, and so is every machine that Node runs on.
  const frame = bitDepth === 16 ? new Uint16Array(bytes.buffer) : new Uint8ClampedArray(bytes.buffer);
  const sensor = uvSensor(world);
  const exposureOf = seriesExposures(world);
  const total = SERIES.reduce((sum, { frames }) => sum + frames, 0);
  const stamp = (k: number): number => Math.round((k * 1e9) / SERIES_RATE_HZ) + 10_000_000;
  const rows = ['t_ns,file,offset_bytes,exposure_ns,gain'];
  const parts: object[] = [];
  let k = 0;
  for (const { light, gain, exposureMs, frames } of SERIES) {
    const file = `uv/${String(parts.length).padStart(2, '0')}.raw`;
    const out = openSync(join(folder, file), 'w');
    let previous: Spots | null = null;
    parts.push({
      name: `${light}, gain ${gain}, ${exposureMs} ms`,
      light,
      fromNs: stamp(k),
      toNs: stamp(k + frames - 1),
    });
    for (let i = 0; i < frames; i++, k++) {
      const { spots, tS } = exposureOf(k);
      sensor.readInto(frame, { spots, previous, tS, chanceKey: 3_000_000 + k });
      writeSync(out, bytes);
      rows.push(`${stamp(k)},${file},${i * bytes.length},${exposureMs * 1_000_000},${gain}`);
      previous = spots;
      onProgress(k + 1, total);
    }
    closeSync(out);
  }
  await writeFile(join(folder, 'uv.csv'), `${rows.join('\n')}\n`);
  await writeFile(join(folder, 'truth.json'), `${JSON.stringify(seriesTruth(world), null, 1)}\n`);
  const description = {
    format: 'corposant-series',
    version: 1,
    name: `Gain series of ${world.rig.nominal.id}`,
    rigId: world.rig.nominal.id,
    epoch: { utc: world.bench.epochUtc, scale: 'UTC' },
    streams: { uv: { index: 'uv.csv', encoding: 'raw', widthPx, heightPx, bitDepth, frameRateHz: SERIES_RATE_HZ } },
    parts,
  };
  await writeFile(join(folder, 'series.json'), `${JSON.stringify(description, null, 1)}\n`);
}
