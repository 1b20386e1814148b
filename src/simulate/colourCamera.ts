import type { World } from './World.ts';
export function colourCamera(world: World): (frame: number) => Uint8Array {
  const { widthPx, heightPx } = world.rig.colourLens;
  return () => new Uint8Array(widthPx * heightPx * 3).fill(120);
}
