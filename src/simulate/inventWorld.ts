import { randomFrom } from '../maths/random.ts';
import { inventBench } from './inventBench.ts';
import { inventFlight } from './inventFlight.ts';
import { inventLine } from './inventLine.ts';
import { inventRig } from './inventRig.ts';
import { islandFrame } from './islandFrame.ts';
import { inventSources } from './sources.ts';
import type { World, WorldOptions } from './World.ts';

/** Vessary, an island that no chart shows, far out in the Atlantic: longitude, latitude, ellipsoidal height of sea level there. */
const VESSARY = [-31.8, 44.3, 58] as const;

/**
 * Everything that one seed decides: line, rig, flight, sources and traps, bench run. Pure; the same seed and options
 * give the same world on every machine, so that a worker need only be told these two.
 */
export function inventWorld(seed: number, options: WorldOptions = { size: 'compact' }): World {
  const random = randomFrom(seed);
  const frame = islandFrame([
    VESSARY[0] + 0.02 * (random.uniform() - 0.5),
    VESSARY[1] + 0.02 * (random.uniform() - 0.5),
    VESSARY[2] + 30 + 60 * random.uniform(),
  ]);
  const rig = inventRig(random.fork(1), options);
  const line = inventLine(random.fork(2), options);
  const flight = inventFlight(random.fork(3), line, options);
  const sources = inventSources(random.fork(4), line, rig, flight);
  return {
    seed,
    options,
    frame,
    rig,
    line,
    flight: { ...flight, sources },
    bench: inventBench(random.fork(5), rig, options.board),
  };
}
