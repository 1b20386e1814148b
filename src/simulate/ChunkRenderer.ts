import type { Chunk, Part } from './chunks.ts';
import { inventWorld } from './inventWorld.ts';
import { pictureTaker, renderColourChunk, type TakePicture } from './renderColourChunk.ts';
import { renderUvChunk } from './renderUvChunk.ts';
import type { Tally } from './Tally.ts';
import { type UvSensor, uvSensor } from './uvSensor.ts';
import type { World } from './World.ts';

/** Renders chunks one after the other, keeping what is dear to prepare. One a thread. */
export interface ChunkRenderer {
  render(chunk: Chunk, advance: () => void): Promise<Tally | null>;
}

export function chunkRenderer(seed: number, options: World['options'], folder: string): ChunkRenderer {
  const world = inventWorld(seed, options);
  let sensor: UvSensor | null = null;
  const takers = new Map<Part, TakePicture>();
  return {
    async render(chunk, advance) {
      if (chunk.stream === 'uv') {
        sensor ??= uvSensor(world);
        return renderUvChunk(world, folder, chunk, advance, sensor);
      }
      const take = takers.get(chunk.part) ?? (await pictureTaker(world, chunk.part));
      takers.set(chunk.part, take);
      await renderColourChunk(world, folder, chunk, advance, take);
      return null;
    },
  };
}
