import { parentPort, workerData } from 'node:worker_threads';
import { chunkRenderer } from './ChunkRenderer.ts';
import type { Chunk } from './chunks.ts';
import type { Tally } from './Tally.ts';
import type { WorldOptions } from './World.ts';

/** What a rendering thread is told at its start, and what it says. */
export interface ThreadOrders {
  readonly seed: number;
  readonly options: WorldOptions;
  readonly folder: string;
}
export type ThreadNews =
  | { readonly kind: 'frame'; readonly part: Chunk['part'] }
  | { readonly kind: 'chunk'; readonly tally: Tally | null };

if (parentPort) {
  const port = parentPort;
  const { seed, options, folder } = workerData as ThreadOrders;
  const renderer = chunkRenderer(seed, options, folder);
  port.on('message', (chunk: Chunk) => {
    renderer
      .render(chunk, () => port.postMessage({ kind: 'frame', part: chunk.part } satisfies ThreadNews))
      .then((tally) => port.postMessage({ kind: 'chunk', tally } satisfies ThreadNews))
      .catch((error: unknown) => {
        throw error; // reaches the main thread as the worker's 'error' event
      });
  });
}
