import { expect, test } from 'vitest';
import type { Llh } from '../earth/Llh.ts';
import { localFrameAt } from '../earth/LocalFrame.ts';
import { llhFromProjected, projectedFromLlh, utmCodeAt } from '../earth/projected.ts';
import { distance, type Vec3 } from '../maths/vec3.ts';
import { corridorOf } from './corridorOf.ts';
import { distanceToComponent } from './distanceToComponent.ts';
import { componentById, componentsNear, indexLine } from './LineIndex.ts';
import type { LineFile } from './lineFile.ts';
import { lineModelFromFile } from './lineModelFromFile.ts';

const frame = localFrameAt([13.7, 47.3, 600]);
const at = (e: number, n: number, u: number): [number, number, number] =>
  [...frame.llhFromEnu([e, n, u])] as [number, number, number];

/** Two towers 300 m apart along east, one string with a clamp on each, a phase conductor and an earth wire. */
function smallLine(): LineFile {
  const string = (id: string, structureId: string, e: number) => ({
    id,
    kind: 'insulator string' as const,
    structureId,
    circuit: '1',
    phase: 'L1',
    side: 'left',
    startLlh: at(e, 8, 40),
    endLlh: at(e, 8, 36.5),
    sigmaM: 0.1,
    discs: 21,
  });
  return {
    format: 'corposant-line',
    version: 1,
    name: 'Test line',
    owner: 'Nobody',
    voltageKv: 380,
    structures: [
      { id: 'T1', kind: 'tension', positionLlh: at(0, 0, 0), sigmaM: 0.2, heightM: 52 },
      { id: 'T2', kind: 'suspension', positionLlh: at(300, 0, 2), sigmaM: 0.3, heightM: 52 },
    ],
    components: [
      string('T1-L1', 'T1', 0),
      string('T2-L1', 'T2', 300),
      {
        id: 'T2-clamp',
        kind: 'clamp',
        structureId: 'T2',
        circuit: '1',
        phase: 'L1',
        startLlh: at(300, 8, 36.3),
        endLlh: at(300, 8, 36.3),
        sigmaM: 0.1,
      },
      {
        id: 'spacer',
        kind: 'spacer',
        spanId: 'T1..T2',
        circuit: '1',
        phase: 'L1',
        startLlh: at(60, 8, 31),
        endLlh: at(60, 8, 31),
        sigmaM: 0.3,
      },
    ],
    conductors: [
      {
        id: 'W1',
        kind: 'phase',
        fromStructureId: 'T1',
        toStructureId: 'T2',
        circuit: '1',
        phase: 'L1',
        startLlh: at(0, 8, 36.3),
        endLlh: at(300, 8, 36.3),
        sagM: 9,
        sagSigmaM: 0.4,
        bundle: { count: 4, spacingM: 0.4, radiusM: 0.0112 },
      },
      {
        id: 'E1',
        kind: 'earth',
        fromStructureId: 'T1',
        toStructureId: 'T2',
        circuit: '',
        phase: '',
        startLlh: at(0, 0, 52),
        endLlh: at(300, 0, 54),
        sagM: 7,
        sagSigmaM: 0.4,
        bundle: { count: 1, spacingM: 0, radiusM: 0.009 },
      },
    ],
  };
}

const read = (json: unknown) => lineModelFromFile(json, 'line.json', frame);

test('hardware stands where the file puts it, with its radius, discs and tower', () => {
  const line = read(smallLine());
  const string = line.components[0];
  expect(distance(string.axisEnuM[0], [0, 8, 40])).toBeLessThan(1e-8);
  expect(distance(string.axisEnuM[1], [0, 8, 36.5])).toBeLessThan(1e-8);
  expect(string).toMatchObject({ discs: 21, structureIds: ['T1'], side: 'left', radiusM: 0.14, bundle: null });
  expect(line.structures.map((s) => s.footEnuM[2].toFixed(6))).toEqual(['0.000000', '2.000000']);
  expect(line.components.find((c) => c.id === 'spacer')?.structureIds).toEqual(['T1', 'T2']);
});

test('a conductor hangs by its sag below the middle of its chord, along the plumb line of the span', () => {
  const wire = read(smallLine()).components.find((c) => c.id === 'W1');
  if (!wire) throw new Error('no wire');
  expect(distance(wire.axisEnuM[0], [0, 8, 36.3])).toBeLessThan(1e-6);
  expect(distance(wire.axisEnuM[wire.axisEnuM.length - 1], [300, 8, 36.3])).toBeLessThan(1e-6);
  // 300 m along the plane of the frame, the plumb line leans by at most 4.7e-5 rad: 0.4 mm on 9 m. 1 mm chord error.
  const low = distanceToComponent([150, 8, 27.3], wire);
  expect(low.axisDistanceM).toBeLessThan(0.0015);
  expect(low.along).toBeCloseTo(0.5, 4);
  // Four conductors 0.4 m apart sit on a circle of 0.4 / sqrt(2); the radius of the wire is added.
  expect(wire.radiusM).toBeCloseTo(0.4 / Math.SQRT2 + 0.0112, 12);
  expect(wire.sigmaM).toBeCloseTo(0.5, 12);
});

test('20 km from the origin the wire leans with the plumb line there, by 31 mm on 10 m of sag', () => {
  const far = smallLine();
  const there = localFrameAt(frame.llhFromEnu([20000, 0, 0]));
  const shift = (llh: readonly number[]): [number, number, number] =>
    [...there.llhFromEnu(frame.enuFromLlh(llh as unknown as Llh))] as [number, number, number];
  far.structures.forEach((s) => (s.positionLlh = shift(s.positionLlh)));
  far.components.forEach((c) => {
    c.startLlh = shift(c.startLlh);
    c.endLlh = shift(c.endLlh);
  });
  far.conductors.forEach((c) => {
    c.startLlh = shift(c.startLlh);
    c.endLlh = shift(c.endLlh);
  });
  const wire = read(far).components.find((c) => c.id === 'W1');
  const truth = frame.enuFromLlh(there.llhFromEnu([150, 8, 27.3]));
  expect(distanceToComponent(truth, wire as NonNullable<typeof wire>).axisDistanceM).toBeLessThan(0.0015);
});

test('a wire given by its parameter or by measured points hangs where the one given by its sag hangs', () => {
  const bySag = read(smallLine()).components.find((c) => c.id === 'W1');
  const wire = bySag as NonNullable<typeof bySag>;
  const byPoints = smallLine();
  delete byPoints.conductors[0].sagM;
  byPoints.conductors[0].wirePointsLlh = [12, 30, 55].map(
    (k) => [...frame.llhFromEnu(wire.axisEnuM[k])] as [number, number, number],
  );
  const byParameter = smallLine();
  delete byParameter.conductors[0].sagM;
  // L^2 / 8 D + D / 6: the next term of the series is under a millimetre of C.
  byParameter.conductors[0].parameterM = 300 ** 2 / 72 + 9 / 6;
  for (const line of [byPoints, byParameter]) {
    const again = read(line).components.find((c) => c.id === 'W1');
    for (const point of again?.axisEnuM ?? [])
      expect(distanceToComponent(point, wire).axisDistanceM).toBeLessThan(0.0015);
  }
});

test('distance to a component is to its surface and zero inside it', () => {
  const line = read(smallLine());
  const index = indexLine(line);
  const string = componentById(index, 'T1-L1');
  if (!string) throw new Error('no string');
  expect(distanceToComponent([0.6, 8.8, 38.25], string).distanceM).toBeCloseTo(1 - 0.14, 9);
  expect(distanceToComponent([0.6, 8.8, 38.25], string).along).toBeCloseTo(0.5, 9);
  expect(distanceToComponent([0.05, 8, 39], string).distanceM).toBe(0);
  const clamp = componentById(index, 'T2-clamp');
  expect(distanceToComponent([300, 8, 39.3], clamp as NonNullable<typeof clamp>)).toMatchObject({ along: 0 });
  expect(componentById(index, 'nothing')).toBeUndefined();
});

test('what the index finds near a point is what asking every component finds', () => {
  const line = read(smallLine());
  const index = indexLine(line);
  for (const [point, radius] of [
    [[0, 8, 38], 5],
    [[150, 9, 28], 2],
    [[300, 8, 36], 3],
    [[60, 8, 30], 1.5],
    [[150, 200, 0], 50],
  ] as [Vec3, number][]) {
    const all = line.components
      .map((c) => ({ id: c.id, d: distanceToComponent(point, c).distanceM }))
      .filter((x) => x.d <= radius)
      .sort((a, b) => a.d - b.d || (a.id < b.id ? -1 : 1));
    expect(componentsNear(index, point, radius).map((x) => x.component.id)).toEqual(all.map((x) => x.id));
  }
  expect(componentsNear(index, [300, 8, 36], 3).length).toBeGreaterThan(2);
});

test('the corridor follows every component within a fifth of its radius, with few pieces', () => {
  const line = read(smallLine());
  const corridor = corridorOf(line, { radiusM: 3, nearestM: 5, farthestM: 120 });
  expect(corridor).toMatchObject({ radiusM: 3, nearestM: 5, farthestM: 120 });
  for (const component of line.components)
    for (const point of component.axisEnuM) {
      const gaps = corridor.segments.map(
        (s) => distanceToComponent(point, { axisEnuM: [s.fromEnuM, s.toEnuM], radiusM: 0 }).distanceM,
      );
      expect(Math.min(...gaps)).toBeLessThanOrEqual(component.axisEnuM.length > 2 ? 0.3 : 0.6);
    }
  // A wire of 300 m with 9 m of sag needs pieces of sqrt(8 C 0.3) = 55 m: eight, in powers of two. Two wires, two
  // strings; the clamp at the wire's end and the spacer half a metre from it are covered.
  expect(corridor.segments.length).toBe(2 * 8 + 2);
  for (const s of corridor.segments) expect(distance(s.fromEnuM, s.toEnuM)).toBeGreaterThan(0.015);
});

type Spoil = (line: LineFile) => void;
const swap = (llh: [number, number, number]): [number, number, number] => [llh[1], llh[0], llh[2]];
test.each<[string, Spoil, string]>([
  [
    'an unknown structure',
    (l) => (l.components[0].structureId = 'T9'),
    'components.0.structureId: found "T9", expected the id of one of the structures',
  ],
  ['an unknown span', (l) => (l.components[3].spanId = 'T1..T3'), 'components.3.spanId: found "T1..T3"'],
  [
    'neither tower nor span',
    (l) => delete l.components[2].structureId,
    'components.2: found neither structureId nor spanId',
  ],
  [
    'an id used twice',
    (l) => (l.conductors[1].id = 'T2-L1'),
    'conductors.1.id: found "T2-L1", which components.1.id has too',
  ],
  [
    'latitude first',
    (l) => (l.structures[1].positionLlh = swap(l.structures[1].positionLlh)),
    'Latitude and longitude are swapped',
  ],
  [
    'a tower read in the UTM zone beside its own',
    (l) => {
      const [lon, lat, height] = l.structures[1].positionLlh;
      const own = utmCodeAt(lon, lat);
      const beside = `EPSG:${Number(own.slice(5)) - 1}`;
      l.structures[1].positionLlh = [...llhFromProjected(beside, ...projectedFromLlh(own, lon, lat)), height];
    },
    'and are of the zone beside',
  ],
  [
    'a latitude beyond the pole',
    (l) => (l.structures[0].positionLlh[1] = 147.3),
    'structures.0.positionLlh.1: found 147.3, expected a latitude second',
  ],
  [
    'a string of 30 m',
    (l) => (l.components[0].endLlh = at(0, 8, 10)),
    'components.0.endLlh: found 30.0 m from startLlh, expected at most 25 m (insulator string)',
  ],
  [
    'a string on the wrong tower',
    (l) => (l.components[0].structureId = 'T2'),
    'components.0.startLlh: found 300.1 m from the foot of structure "T2"',
  ],
  ['heights above the sea', (l) => (l.components[0].startLlh[2] -= 55), 'is the geoid, left out or added twice'],
  ['a sag upwards', (l) => (l.conductors[0].sagM = -9), 'conductors.0.sagM: found -9, expected a sag of 0 or more'],
  [
    'a sag in centimetres',
    (l) => (l.conductors[0].sagM = 900),
    'conductors.0.sagM: found 900, expected at most half the span (150.0 m)',
  ],
  [
    'sag and parameter at once',
    (l) => (l.conductors[0].parameterM = 1200),
    'conductors.0: found sagM and parameterM, expected one of',
  ],
  [
    'a measured point of another wire',
    (l) => {
      delete l.conductors[0].sagM;
      l.conductors[0].wirePointsLlh = [at(150, 8, 27.3), at(160, -8, 27.3)];
    },
    'conductors.0.wirePointsLlh.1: found a point 16.0 m beside the wire',
  ],
  [
    'a spacer beside its span',
    (l) => (l.components[3].startLlh = at(60, 90, 31)),
    'components.3.startLlh: found 90.0 m beside the span from "T1" to "T2"',
  ],
  [
    'a spacer above the sea',
    (l) => (l.components[3].endLlh[2] -= 60),
    'components.3.endLlh: found -29.0 m above the foot of structure "T1"',
  ],
  ['a span to itself', (l) => (l.conductors[0].toStructureId = 'T1'), 'conductors.0.toStructureId: found "T1" again'],
  [
    'a bundle spacing in radii',
    (l) => (l.conductors[0].bundle.spacingM = 0.02),
    'conductors.0.bundle.spacingM: found 0.02',
  ],
  ['a voltage in volts', (l) => (l.voltageKv = 380000), 'voltageKv: found 380000, expected a voltage in kV'],
  ['a key of its own', (l) => Object.assign(l.structures[0], { colour: 'red' }), 'structures.0'],
])('%s is refused by field', (_what, spoil, message) => {
  const line = smallLine();
  spoil(line);
  expect(() => read(line)).toThrow(message);
});
