import type { LineComponent, LineModel, Structure } from '../../line/LineModel.ts';
import type { Vec3 } from '../../maths/vec3.ts';
import { pointOnAxis } from '../axis.ts';

/** A place that a pass along the line goes by: a tower, or the middle of a span where the wires hang lowest. */
export interface CourseStation {
  /** Tower, or null in a span. */
  readonly structureId: string | null;
  readonly eastM: number;
  readonly northM: number;
  /** Between these heights there is hardware to see. */
  readonly lowestUpM: number;
  readonly highestUpM: number;
}

/** A way from tower to tower without a branch or a sharp turn. */
export type Course = readonly CourseStation[];

/** A turn sharper than this ends a pass: no aircraft follows it in line. */
const SHARPEST_TURN_RAD = (75 * Math.PI) / 180;
/** Spans shorter than this sag less than the aircraft holds its height. */
const SPAN_WITH_STATION_M = 60;

/**
 * The courses of a line: towers strung together by the conductors between them, in order, cut at branches and sharp turns.
 * A line without conductors is strung in the order of its structures.
 */
export function lineCourses(line: LineModel): Course[] {
  const byId = new Map(line.structures.map((s) => [s.id, s]));
  return towerChains(line)
    .flatMap((chain) => cutAtTurns(chain.map((id) => byId.get(id) as Structure)))
    .map((towers) =>
      towers.flatMap((tower, i) => {
        const here = stationAt(line, tower);
        const next = towers[i + 1];
        if (!next) return [here];
        const middle = middleOfSpan(line, tower, next);
        return middle ? [here, middle] : [here];
      }),
    );
}

function towerChains(line: LineModel): string[][] {
  const neighbours = new Map<string, Set<string>>(line.structures.map((s) => [s.id, new Set<string>()]));
  for (const c of line.components) {
    if (!isWire(c) || c.structureIds.length !== 2) continue;
    const [a, b] = c.structureIds;
    neighbours.get(a)?.add(b);
    neighbours.get(b)?.add(a);
  }
  if ([...neighbours.values()].every((n) => n.size === 0)) return [line.structures.map((s) => s.id)];
  const used = new Set<string>();
  const spanOf = (a: string, b: string): string => (a < b ? `${a}\n${b}` : `${b}\n${a}`);
  const chains: string[][] = [];
  const walk = (from: string, to: string): void => {
    const chain = [from];
    let before = from;
    let at = to;
    for (;;) {
      used.add(spanOf(before, at));
      chain.push(at);
      const onward = [...(neighbours.get(at) ?? [])].filter((n) => n !== before && !used.has(spanOf(at, n)));
      if ((neighbours.get(at)?.size ?? 0) !== 2 || onward.length !== 1) break;
      before = at;
      at = onward[0];
    }
    chains.push(chain);
  };
  // From ends and branches first, then whatever is a ring.
  const ids = [...neighbours.keys()];
  for (const id of [...ids.filter((i) => neighbours.get(i)?.size !== 2), ...ids])
    for (const next of neighbours.get(id) ?? []) if (!used.has(spanOf(id, next))) walk(id, next);
  return chains;
}

function cutAtTurns(towers: readonly Structure[]): Structure[][] {
  const out: Structure[][] = [[]];
  towers.forEach((tower, i) => {
    out[out.length - 1].push(tower);
    if (i === 0 || i === towers.length - 1) return;
    const [a, b, c] = [towers[i - 1], tower, towers[i + 1]].map((t) => t.footEnuM);
    const turn = Math.atan2(c[1] - b[1], c[0] - b[0]) - Math.atan2(b[1] - a[1], b[0] - a[0]);
    if (Math.abs(Math.atan2(Math.sin(turn), Math.cos(turn))) > SHARPEST_TURN_RAD) out.push([tower]);
  });
  return out;
}

const isWire = (c: LineComponent): boolean => c.kind === 'conductor' || c.kind === 'earth wire';

function stationAt(line: LineModel, tower: Structure): CourseStation {
  const heights = line.components
    .filter((c) => !isWire(c) && c.structureIds.length === 1 && c.structureIds[0] === tower.id)
    .flatMap((c) => c.axisEnuM.map((p) => p[2]));
  for (const c of line.components) {
    const end = isWire(c) ? c.structureIds.indexOf(tower.id) : -1;
    if (end >= 0) heights.push(c.axisEnuM[end === 0 ? 0 : c.axisEnuM.length - 1][2]);
  }
  const [eastM, northM, foot] = tower.footEnuM;
  return {
    structureId: tower.id,
    eastM,
    northM,
    lowestUpM: heights.length > 0 ? Math.min(...heights) : foot + 0.6 * tower.heightM,
    highestUpM: heights.length > 0 ? Math.max(...heights) : foot + tower.heightM,
  };
}

function middleOfSpan(line: LineModel, from: Structure, to: Structure): CourseStation | null {
  const [dx, dy] = [to.footEnuM[0] - from.footEnuM[0], to.footEnuM[1] - from.footEnuM[1]];
  if (Math.hypot(dx, dy) < SPAN_WITH_STATION_M) return null;
  const middles: Vec3[] = line.components
    .filter((c) => isWire(c) && c.structureIds.includes(from.id) && c.structureIds.includes(to.id))
    .map((c) => pointOnAxis(c.axisEnuM, 0.5));
  if (middles.length === 0) return null;
  return {
    structureId: null,
    eastM: from.footEnuM[0] + dx / 2,
    northM: from.footEnuM[1] + dy / 2,
    lowestUpM: Math.min(...middles.map((p) => p[2])),
    highestUpM: Math.max(...middles.map((p) => p[2])),
  };
}
