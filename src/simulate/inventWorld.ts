import { type Random, randomFrom } from '../maths/random.ts';
import { bodyPoseAt } from './FlightPath.ts';
import { inventBench } from './inventBench.ts';
import { inventFlight } from './inventFlight.ts';
import { inventLine } from './inventLine.ts';
import { inventRig } from './inventRig.ts';
import { islandFrame } from './islandFrame.ts';
import { alongLineM, dischargesAYearOn, recordedBeyond, recordedFromM } from './secondYear.ts';
import { inventNewDischarges, inventSources, inventTraps } from './sources.ts';
import type { Discharge, InventedFlight, World, WorldOptions } from './World.ts';

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
  const flight = inventFlight(random.fork(3), line, { ...options, year: 1 });
  const sources = inventSources(random.fork(4), line, rig, flight);
  const bench = inventBench(random.fork(5), rig, options.board);
  const first = { seed, options, frame, rig, line, flight: { ...flight, sources }, bench };
  return options.year === 2 ? { ...first, flight: flightAYearOn(random.fork(6), first) } : first;
}

/** The same line and rig a year on: another flight in other air, and discharges of which some have changed. */
function flightAYearOn(random: Random, { line, rig, flight: before, options }: World): InventedFlight {
  const isDischarge = (source: InventedFlight['sources'][number]): source is Discharge => source.kind === 'discharge';
  const discharges = before.sources.filter(isDischarge);
  const fromM = recordedFromM(line, discharges);
  const flown = inventFlight(random.fork(1), line, options);
  const flight = recordedBeyond(flown, fromM, (tS) => alongLineM(line, bodyPoseAt(flown.path, tS).positionEnuM));
  const fresh = inventNewDischarges(
    random.fork(2),
    line,
    rig,
    flight,
    discharges,
    (at) => alongLineM(line, at) > fromM,
  );
  const now = dischargesAYearOn(random.fork(3), line, discharges, fresh, fromM);
  return {
    ...flight,
    sources: [...now.discharges, ...inventTraps(random.fork(4), line, rig, flight)],
    changes: now.changes,
  };
}
