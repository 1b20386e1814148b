import type { World } from './World.ts';

export const PARTS = ['bench', 'flight'] as const;
export type Part = (typeof PARTS)[number];

/** A stretch of frames of one stream, rendered in one go and independently of all others. */
export interface Chunk {
  readonly part: Part;
  readonly stream: 'uv' | 'colour';
  readonly number: number;
  /** First frame, and the one after the last. */
  readonly from: number;
  readonly to: number;
}

/** Frames of one raw file. */
export const FRAMES_PER_RAW_FILE = 500;
const COLOUR_FRAMES_PER_CHUNK = 20;

export const rawFileName = (number: number): string => `uv/${String(number).padStart(4, '0')}.raw`;
export const colourFileName = (frame: number): string => `colour/${String(frame).padStart(6, '0')}.jpg`;

export function chunksOf(world: World, part: Part): Chunk[] {
  const of = part === 'bench' ? world.bench : world.flight;
  const cut = (stream: 'uv' | 'colour', frames: number, size: number): Chunk[] =>
    Array.from({ length: Math.ceil(frames / size) }, (_, number) => ({
      part,
      stream,
      number,
      from: number * size,
      to: Math.min(frames, (number + 1) * size),
    }));
  return [
    ...cut('uv', of.uvTimes.tNs.length, FRAMES_PER_RAW_FILE),
    ...cut('colour', of.colourTimes.tNs.length, COLOUR_FRAMES_PER_CHUNK),
  ];
}
