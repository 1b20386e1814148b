import { join } from 'node:path';
import sharp from 'sharp';
import { benchCamera } from './benchCamera.ts';
import { type Chunk, colourFileName } from './chunks.ts';
import { colourCamera } from './colourCamera.ts';
import type { World } from './World.ts';

export type TakePicture = (frame: number) => Uint8Array;

/** Prepares one of the two colour recordings of a world. */
export async function pictureTaker(world: World, part: Chunk['part']): Promise<TakePicture> {
  return part === 'bench' ? benchCamera(world) : colourCamera(world);
}

/** Takes the pictures of a chunk and writes one JPEG each. */
export async function renderColourChunk(
  world: World,
  folder: string,
  chunk: Chunk,
  advance: () => void,
  take: TakePicture,
): Promise<void> {
  const { widthPx, heightPx } = world.rig.colourLens;
  const quality = chunk.part === 'bench' ? 93 : 88;
  for (let frame = chunk.from; frame < chunk.to; frame++) {
    const rgb = take(frame);
    await sharp(rgb, { raw: { width: widthPx, height: heightPx, channels: 3 } })
      .jpeg({ quality, chromaSubsampling: '4:2:0' })
      .toFile(join(folder, chunk.part, colourFileName(frame)));
    advance();
  }
}
