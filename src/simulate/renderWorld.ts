import { mkdir, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { Worker } from 'node:worker_threads';
import { sweepAt } from './benchExposures.ts';
import { chunkRenderer } from './ChunkRenderer.ts';
import { type Chunk, chunksOf, colourFileName, FRAMES_PER_RAW_FILE, PARTS, type Part, rawFileName } from './chunks.ts';
import { describeBench, describeFlight, describeLine } from './describe.ts';
import type { ThreadNews, ThreadOrders } from './renderThread.ts';
import { addTally, emptyTally, type Tally } from './Tally.ts';
import { TRAJECTORY_COLUMNS, trajectoryRows } from './trajectoryRows.ts';
import { benchRunTruth, flightTruth } from './truth.ts';
import type { World } from './World.ts';

export interface RenderOptions {
  /** Threads beside this one; 0 renders here. TypeScript sources (tests) always render here. */
  readonly workers: number;
  /** Called after each frame of either stream, with the count of both. */
  readonly onProgress?: (part: Part, done: number, total: number) => void;
  /** Default: both. */
  readonly parts?: readonly Part[];
}

/**
 * Puts a world on disk in the formats of docs/formats.md: `rig.json`, `line.json`, and per part a folder `bench` or
 * `flight` with its frames, indices and `truth.json`. The bytes depend on the world alone, not on the number of workers.
 * The descriptions are written last, so that a folder with a `flight.json` or `bench.json` is whole.
 */
export async function renderWorld(world: World, folder: string, options: RenderOptions): Promise<void> {
  const parts = options.parts ?? PARTS;
  await mkdir(folder, { recursive: true });
  await writeJson(join(folder, 'rig.json'), world.rig.nominal);
  await writeJson(join(folder, 'line.json'), describeLine(world));
  for (const part of parts) {
    for (const stream of ['uv', 'colour']) await mkdir(join(folder, part, stream), { recursive: true });
  }
  const progress = new Map(parts.map((part) => [part, { done: 0, total: 0 }]));
  const chunks = parts.flatMap((part) => chunksOf(world, part));
  for (const chunk of chunks) progress.get(chunk.part)!.total += chunk.to - chunk.from;
  const tally = emptyTally(world.flight.sources.length, world.flight.passes.length);
  const advance = (part: Part): void => {
    const p = progress.get(part)!;
    p.done += 1;
    options.onProgress?.(part, p.done, p.total);
  };
  const collect = (more: Tally | null): void => {
    if (more) addTally(tally, more);
  };

  if (options.workers > 0 && !import.meta.url.endsWith('.ts')) {
    await renderInThreads(world, folder, chunks, options.workers, advance, collect);
  } else {
    const renderer = chunkRenderer(world.seed, world.options, folder);
    for (const chunk of chunks) collect(await renderer.render(chunk, () => advance(chunk.part)));
  }
  for (const part of parts) await writeIndices(world, folder, part);
  if (parts.includes('bench')) {
    await writeJson(join(folder, 'bench', 'truth.json'), benchRunTruth(world));
    await writeJson(join(folder, 'bench', 'bench.json'), describeBench(world));
  }
  if (parts.includes('flight')) {
    await writeCsv(join(folder, 'flight', 'trajectory.csv'), TRAJECTORY_COLUMNS, trajectoryRows(world));
    await writeJson(join(folder, 'flight', 'truth.json'), flightTruth(world, tally));
    await writeJson(join(folder, 'flight', 'flight.json'), describeFlight(world));
  }
}

/** Deals the chunks out to threads, each taking the next when it has done one. */
function renderInThreads(
  world: World,
  folder: string,
  chunks: readonly Chunk[],
  workers: number,
  advance: (part: Part) => void,
  collect: (tally: Tally | null) => void,
): Promise<void> {
  let next = 0;
  const threads: Worker[] = [];
  const oneThread = (): Promise<void> =>
    new Promise((resolve, reject) => {
      const workerData: ThreadOrders = { seed: world.seed, options: world.options, folder };
      const thread = new Worker(fileURLToPath(new URL('./renderThread.js', import.meta.url)), { workerData });
      const feed = (): void => {
        const chunk = chunks[next++];
        if (chunk) thread.postMessage(chunk);
        else void thread.terminate().then(() => resolve());
      };
      thread.on('message', (news: ThreadNews) => {
        if (news.kind === 'frame') advance(news.part);
        else {
          collect(news.tally);
          feed();
        }
      });
      threads.push(thread);
      thread.on('error', reject);
      feed();
    });
  return Promise.all(Array.from({ length: Math.min(workers, chunks.length) }, oneThread)).then(
    () => undefined,
    async (error: unknown) => {
      // One has failed: the others must not go on writing into a folder that the caller has given up.
      await Promise.all(threads.map((thread) => thread.terminate()));
      throw error;
    },
  );
}

async function writeIndices(world: World, folder: string, part: Part): Promise<void> {
  const of = part === 'bench' ? world.bench : world.flight;
  const { widthPx, heightPx, bitDepth } = world.rig.nominal.cameras.uv;
  const frameBytes = (widthPx * heightPx * bitDepth) / 8;
  const gainAt = (tNs: number): number => {
    const tS = tNs * 1e-9;
    if (part === 'bench') return sweepAt(world.bench.sweeps, tS).gain;
    const { gain } = world.flight;
    return tS < gain.stepAtS ? gain.before : gain.after;
  };
  await writeCsv(
    join(folder, part, 'uv.csv'),
    ['t_ns', 'file', 'offset_bytes', 'exposure_ns', 'gain'],
    Array.from(of.uvTimes.tNs, (tNs, k) => [
      String(tNs),
      rawFileName(Math.floor(k / FRAMES_PER_RAW_FILE)),
      String((k % FRAMES_PER_RAW_FILE) * frameBytes),
      String(of.uvTimes.exposureNs),
      String(gainAt(tNs)),
    ]),
  );
  await writeCsv(
    join(folder, part, 'colour.csv'),
    ['t_ns', 'file', 'exposure_ns'],
    Array.from(of.colourTimes.tNs, (tNs, k) => [String(tNs), colourFileName(k), String(of.colourTimes.exposureNs)]),
  );
}

const writeJson = (path: string, content: unknown): Promise<void> =>
  writeFile(path, `${JSON.stringify(content, null, 1)}\n`);

/** Our cells are numbers and plain file names: nothing in them needs quoting. */
const writeCsv = (path: string, columns: readonly string[], rows: readonly (readonly string[])[]): Promise<void> =>
  writeFile(path, `${[columns, ...rows].map((row) => row.join(',')).join('\n')}\n`);
