import { join } from 'node:path';
import { inventWorld } from '../../simulate/inventWorld.ts';
import { renderWorld } from '../../simulate/renderWorld.ts';
import type { JobWatch } from '../JobWatch.ts';

export interface InventOptions {
  readonly seed: number;
  readonly size: 'compact' | 'full';
  readonly colourRateHz?: number;
  readonly workers: number;
}

/** Renders the world of a seed to files: rig, line, bench run, flight, and the truth beside the last two. */
export async function inventWorldFiles(
  folder: string,
  options: InventOptions,
  watch: JobWatch,
): Promise<{ readonly seed: number; readonly files: readonly string[] }> {
  const world = inventWorld(options.seed, { size: options.size, colourRateHz: options.colourRateHz });
  await renderWorld(world, folder, {
    workers: options.workers,
    onProgress: (part, done, total) => watch.progress(`rendering the ${part}`, done, total, 'frames'),
  });
  return {
    seed: options.seed,
    files: ['rig.json', 'line.json', join('bench', 'bench.json'), join('flight', 'flight.json')].map((file) =>
      join(folder, file),
    ),
  };
}
