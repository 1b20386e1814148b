import { join } from 'node:path';
import { inventWorld } from '../../simulate/inventWorld.ts';
import { renderSeries } from '../../simulate/renderSeries.ts';
import { renderWorld } from '../../simulate/renderWorld.ts';
import type { BoardKind } from '../../simulate/World.ts';
import type { JobWatch } from '../JobWatch.ts';

export interface InventOptions {
  readonly seed: number;
  readonly size: 'compact' | 'full';
  readonly colourRateHz?: number;
  readonly board?: BoardKind;
  /** Default: both. */
  readonly only?: 'bench' | 'flight';
  readonly workers: number;
  /** Also a gain series of the ultraviolet camera. */
  readonly series?: boolean;
  /** Default 1. The second is the same rig over the same line a year on; it needs no bench of its own. */
  readonly year?: 1 | 2;
  /** An ultraviolet camera that is not equally sensitive all over its picture. */
  readonly uneven?: boolean;
}

/** Renders the world of a seed to files: rig, line, bench run, flight and, if asked for, gain series, with the truth beside the last. */
export async function inventWorldFiles(
  folder: string,
  options: InventOptions,
  watch: JobWatch,
): Promise<{ readonly seed: number; readonly files: readonly string[] }> {
  const world = inventWorld(options.seed, {
    size: options.size,
    colourRateHz: options.colourRateHz,
    board: options.board,
    year: options.year ?? 1,
    uneven: options.uneven,
  });
  // The bench run of the first year still holds in the second.
  const only = options.only ?? (options.year === 2 ? 'flight' : undefined);
  await renderWorld(world, folder, {
    workers: options.workers,
    ...(only ? { parts: [only] } : {}),
    onProgress: (part, done, total) => watch.progress(`rendering the ${part}`, done, total, 'frames'),
  });
  if (options.series)
    await renderSeries(world, join(folder, 'series'), (done, total) =>
      watch.progress('rendering the gain series', done, total, 'frames'),
    );
  const parts = (['bench', 'flight'] as const).filter((part) => !only || part === only);
  const files = ['rig.json', 'line.json', ...parts.map((part) => join(part, `${part}.json`))];
  if (options.series) files.push(join('series', 'series.json'));
  return { seed: options.seed, files: files.map((file) => join(folder, file)) };
}
