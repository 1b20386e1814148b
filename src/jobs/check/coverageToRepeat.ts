import type { LineModel } from '../../line/LineModel.ts';
import { type ComponentCoverage, toFlyAgain } from '../../place/coverComponents.ts';

/** Components of one tower or span that have to be flown again for one reason. */
export interface Repeat {
  /** A tower, or the two towers of a span joined by two dots. */
  readonly place: string;
  readonly because: string;
  readonly components: readonly string[];
}

/**
 * What to fly again, tower by tower and span by span in the order of the line.
 * @param wantedHz weakest discharge that the flight must be able to show; infinite: being seen is enough
 */
export function coverageToRepeat(line: LineModel, coverage: readonly ComponentCoverage[], wantedHz: number): Repeat[] {
  const structuresOf = new Map(line.components.map((c) => [c.id, c.structureIds]));
  const order = new Map(line.structures.map((s, i) => [s.id, i]));
  const groups = new Map<string, { place: string; because: string; components: string[]; at: number }>();
  for (const { componentId, because } of toFlyAgain(coverage, wantedHz)) {
    const ids = structuresOf.get(componentId) ?? [];
    const place = ids.join('..');
    // Shares of a length differ from wire to wire: one reason for all that was seen in part.
    const reason = because.startsWith('only') ? 'seen in part' : because;
    const key = `${place}\n${reason}`;
    const group = groups.get(key) ?? {
      place,
      because: reason,
      components: [],
      at: Math.max(0, ...ids.map((id) => order.get(id) ?? 0)) - (ids.length > 1 ? 0.5 : 0),
    };
    group.components.push(componentId);
    groups.set(key, group);
  }
  return [...groups.values()]
    .sort((a, b) => a.at - b.at || (a.because < b.because ? -1 : 1))
    .map(({ place, because, components }) => ({ place, because, components }));
}
