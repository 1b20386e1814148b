import { type Random, randomFrom } from '../maths/random.ts';
import type { World } from './World.ts';

/** The independent streams of chance that a world's recordings draw from, told apart by their key; never reuse one. */
export const CHANCE = {
  flightUv: 11,
  benchUv: 13,
  camera: 15,
  trajectory: 16,
  colour: 17,
  benchColour: 18,
  series: 19,
} as const;

/** A stream of a flight: another flight of the same world draws other numbers. */
export function flightChance({ seed, options }: Pick<World, 'seed' | 'options'>, key: number): Random {
  const stream = randomFrom(seed).fork(key);
  return options.year === 2 ? stream.fork(2) : stream;
}
