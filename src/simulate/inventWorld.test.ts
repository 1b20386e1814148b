import { expect, test } from 'vitest';
import { transformPoint } from '../maths/rigidTransform.ts';
import { distance } from '../maths/vec3.ts';
import { describeBench, describeFlight, describeLine } from './describe.ts';
import { inventWorld } from './inventWorld.ts';
import { seenAt } from './TrueLens.ts';
import type { World } from './World.ts';

const invented = new Map<number, World>();
/** Worlds are values: one of a seed serves all tests that only look at it. */
const worldOf = (seed: number): World => {
  const world = invented.get(seed) ?? inventWorld(seed);
  invented.set(seed, world);
  return world;
};
const SEEDS = Array.from({ length: 20 }, (_, i) => i + 1);

test('a seed is a world: the same seed invents the same, another another', () => {
  const text = (seed: number) => {
    const world = inventWorld(seed);
    return JSON.stringify([world.rig, world.line, world.flight, world.bench, describeLine(world)]);
  };
  expect(text(5)).toBe(text(5));
  expect(text(5)).not.toBe(text(6));
});

test.each(SEEDS)(
  'seed %i: a line of six towers of two kinds, ten discharges on both circuits, four kinds of trap',
  (seed) => {
    const { line, flight } = worldOf(seed);
    expect(line.structures.length).toBe(6);
    expect(new Set(line.structures.map((s) => s.kind))).toEqual(new Set(['suspension', 'tension']));
    const discharges = flight.sources.filter((s) => s.kind === 'discharge');
    expect(discharges.length).toBe(10);
    const homes = discharges.map((d) => [...line.components, ...line.conductors].find((c) => c.id === d.componentId)!);
    expect(new Set(homes.map((c) => c.circuit)).size).toBe(2);
    expect(new Set(discharges.map((d) => d.componentId)).size).toBe(10);
    for (const [i, a] of discharges.entries()) {
      for (const b of discharges.slice(0, i)) expect(distance(a.positionEnuM, b.positionEnuM)).toBeGreaterThan(2);
    }
    expect(new Set(flight.sources.flatMap((s) => (s.kind === 'trap' ? [s.trap] : []))).size).toBe(4);
  },
);

test.each(SEEDS)('seed %i: every discharge is on its component, within its radius and 0.2 m of its axis', (seed) => {
  const { line, flight } = worldOf(seed);
  for (const source of flight.sources) {
    if (source.kind !== 'discharge') continue;
    const home = line.components.find((c) => c.id === source.componentId);
    if (!home) continue; // a conductor: its curve is the test of the catenary
    const [a, b, p] = [home.startEnuM, home.endEnuM, source.positionEnuM];
    const ab = b.map((x, i) => x - a[i]!);
    const length2 = ab.reduce((s, x) => s + x * x, 0);
    const along = length2 > 0 ? ab.reduce((s, x, i) => s + x * (p[i]! - a[i]!), 0) / length2 : 0;
    const away = Math.hypot(...p.map((x, i) => x - (a[i]! + Math.min(1, Math.max(0, along)) * ab[i]!)));
    expect(away).toBeLessThan(home.radiusM + 0.001);
  }
});

test('the two pictures are out of register by up to some 30 px at 40 m, as cameras bolted side by side are', () => {
  const gaps = SEEDS.map((seed) => {
    const { rig } = worldOf(seed);
    const at = [0, 0, 40] as const;
    const uv = seenAt(rig.uvLens, at)!;
    const colour = seenAt(rig.colourLens, transformPoint(rig.colourFromUv, at))!;
    // The colour picture brought to the scale of the other by the nominal focal lengths.
    const k = 1000 / 1500;
    return Math.hypot((colour[0] - 611.5) * k - (uv[0] - 319.5), (colour[1] - 511.5) * k - (uv[1] - 255.5));
  });
  expect(Math.max(...gaps)).toBeGreaterThan(15);
  expect(Math.max(...gaps)).toBeLessThan(45);
});

test('what the owner has on file is off by what he says, seeds 1 to 20', () => {
  let [squares, count] = [0, 0];
  for (const seed of SEEDS) {
    for (const c of worldOf(seed).line.components) {
      squares += c.nominalShiftM.reduce((s, x) => s + (x / c.sigmaM) ** 2, 0);
      count += 3;
    }
  }
  // Over 16 000 degrees of freedom: 1 sigma of the mean square is 1.1 %.
  expect(Math.abs(squares / count - 1)).toBeLessThan(0.045);
});

test('the descriptions have the keys of docs/formats.md and no other', () => {
  const world = worldOf(2);
  const keys = (x: unknown) => Object.keys(x as object).sort();
  const flight = describeFlight(world) as Record<string, Record<string, object>>;
  expect(keys(flight)).toEqual(['conditions', 'epoch', 'format', 'name', 'rigId', 'streams', 'trajectory', 'version']);
  expect(keys(flight.streams!.uv)).toEqual(['bitDepth', 'encoding', 'frameRateHz', 'heightPx', 'index', 'widthPx']);
  expect(keys(flight.trajectory)).toEqual(['datum', 'file', 'heightKind']);
  const bench = describeBench(world) as { target: { marks: object[] }; sweeps: object[] };
  expect(keys(bench)).toEqual([
    'conditions',
    'epoch',
    'format',
    'name',
    'rigId',
    'streams',
    'sweeps',
    'target',
    'version',
  ]);
  expect(keys(bench.target.marks[0])).toEqual(['discDiameterM', 'discM', 'id', 'lampM']);
  expect(keys(bench.sweeps[0])).toEqual(['fromNs', 'name', 'rangeM', 'rangeSigmaM', 'toNs']);
  const line = describeLine(world) as { structures: object[]; components: object[]; conductors: object[] };
  expect(keys(line)).toEqual([
    'components',
    'conductors',
    'format',
    'name',
    'owner',
    'structures',
    'version',
    'voltageKv',
  ]);
  expect(keys(line.structures[0])).toEqual(['heightM', 'id', 'kind', 'positionLlh', 'sigmaM']);
});
