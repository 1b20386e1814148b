import type { Random } from '../maths/random.ts';
import { dot, subtract, unit, type Vec3 } from '../maths/vec3.ts';
import type { Discharge, InventedFlight, InventedLine, TrueChange } from './World.ts';

/** How far along the line a place is still seen from beside another, with the leaning of the camera and of the line. */
const IN_VIEW_M = 24;

/** Metres along the line, from its first tower. */
export const alongLineM = (line: InventedLine, at: Vec3): number => {
  const [first, second] = [line.structures[0]!, line.structures[1]!];
  return dot(subtract(at, first.footEnuM), unit(subtract(second.footEnuM, first.footEnuM)));
};

/**
 * Where the recording of the second year begins and ends, metres along the line: past the first discharge, and so that none
 * lies half in view.
 */
export function recordedFromM(line: InventedLine, discharges: readonly Discharge[]): number {
  const along = discharges.map(({ positionEnuM }) => alongLineM(line, positionEnuM)).sort((a, b) => a - b);
  let last = 0;
  while (last + 1 < along.length && along[last + 1]! - along[last]! < 2 * IN_VIEW_M) last++;
  return along[last]! + IN_VIEW_M;
}

/** What becomes of the discharges that are flown again, strongest first: the factor on their light. */
const FACTORS = [1, 0, 4, 0.2, 1, 5, 0, 1, 0] as const;
/** Corona of one place from one day to another, where nothing else changes. */
const DAY_TO_DAY_SIGMA = 0.15;

const nameOf = (factor: number): TrueChange['change'] =>
  factor === 0 ? 'gone' : factor > 1 ? 'grown' : factor < 1 ? 'faded' : 'unchanged';

/**
 * The discharges of the second year and what became of those of the first. `fresh` are new; those before `fromM` glow on, but
 * the recording does not see them.
 */
export function dischargesAYearOn(
  random: Random,
  line: InventedLine,
  first: readonly Discharge[],
  fresh: readonly Discharge[],
  fromM: number,
): { discharges: Discharge[]; changes: TrueChange[] } {
  const flown = first
    .filter(({ positionEnuM }) => alongLineM(line, positionEnuM) > fromM)
    .sort((a, b) => b.photonRateHz - a.photonRateHz);
  const discharges: Discharge[] = [];
  const changes: TrueChange[] = [];
  for (const discharge of first) {
    const rank = flown.indexOf(discharge);
    const told = { id: discharge.id, positionEnuM: discharge.positionEnuM, componentId: discharge.componentId };
    if (rank < 0) {
      discharges.push(discharge);
      changes.push({ ...told, change: 'not flown', factor: 1 });
      continue;
    }
    const planned = FACTORS[rank] ?? 1;
    const factor = planned * Math.exp(DAY_TO_DAY_SIGMA * random.normal());
    changes.push({ ...told, change: nameOf(planned), factor });
    if (planned > 0) discharges.push({ ...discharge, photonRateHz: discharge.photonRateHz * factor });
  }
  for (const discharge of fresh) {
    discharges.push(discharge);
    changes.push({
      id: discharge.id,
      positionEnuM: discharge.positionEnuM,
      componentId: discharge.componentId,
      change: 'new',
      factor: null,
    });
  }
  return { discharges, changes };
}

/** The flight of the second year: recorded only beyond `fromM`, out and back. */
export function recordedBeyond(
  flight: Omit<InventedFlight, 'sources'>,
  fromM: number,
  alongAtM: (tS: number) => number,
): Omit<InventedFlight, 'sources'> {
  const [out, back] = flight.passes as [InventedFlight['passes'][number], InventedFlight['passes'][number]];
  let [startS, endS] = [out.fromS, back.toS];
  while (alongAtM(startS) < fromM) startS += 0.1;
  while (alongAtM(endS) < fromM) endS -= 0.1;
  const within = ({ tNs, exposureNs }: InventedFlight['uvTimes']): InventedFlight['uvTimes'] => ({
    tNs: tNs.filter((t) => t >= startS * 1e9 && t <= endS * 1e9),
    exposureNs,
  });
  return {
    ...flight,
    uvTimes: within(flight.uvTimes),
    colourTimes: within(flight.colourTimes),
    passes: [
      { fromS: startS, toS: out.toS },
      { fromS: back.fromS, toS: endS },
    ],
  };
}
