import { expect, test } from 'vitest';
import { egm96UndulationM } from '../earth/geoid.ts';
import { localFrameAt } from '../earth/LocalFrame.ts';
import { distance, subtract, unit } from '../maths/vec3.ts';
import { distanceToComponent } from './distanceToComponent.ts';
import type { LineModel } from './LineModel.ts';
import { lineModelFromFile } from './lineModelFromFile.ts';
import type { LineTemplateFile } from './lineTemplateFile.ts';

const frame = localFrameAt([13.7, 47.3, 600]);
const at = (e: number, n: number, u: number): [number, number, number] =>
  [...frame.llhFromEnu([e, n, u])] as [number, number, number];

/** Four towers eastwards, the third a tension tower at a bend of 20 degrees; two phases and an earth wire. */
function template(): LineTemplateFile {
  const string = { lengthM: 3.5, discs: 21, radiusM: 0.13 };
  const arms = (lower: number) => [
    { circuit: '1', phase: 'L1', rightM: -8, levelM: lower, string },
    { circuit: '1', phase: 'L2', rightM: 8, levelM: lower + 0.5, string },
  ];
  const earthWires = [{ name: 'top', rightM: 0, levelM: 50 }];
  const bend = (20 * Math.PI) / 180;
  return {
    format: 'corposant-line-template',
    version: 1,
    name: 'Drawn line',
    owner: 'Nobody',
    voltageKv: 380,
    heightKind: 'ellipsoidal',
    towerKinds: {
      S: { kind: 'suspension', heightM: 50, phases: arms(30), earthWires },
      T: { kind: 'tension', heightM: 50, phases: arms(27), earthWires },
    },
    phaseWire: { parameterM: 1500, bundle: { count: 4, spacingM: 0.4, radiusM: 0.0112 } },
    earthWire: { parameterM: 1900, bundle: { count: 1, spacingM: 0, radiusM: 0.009 } },
    hardwareSigmaM: 0.4,
    sagRelativeSigma: 0.15,
    towers: [
      { id: 'T1', towerKind: 'T', footLlh: at(0, 0, 0), sigmaM: 0.3 },
      { id: 'T2', towerKind: 'S', footLlh: at(310, 0, 4), sigmaM: 0.3 },
      { id: 'T3', towerKind: 'T', footLlh: at(600, 0, -3), sigmaM: 0.3 },
      { id: 'T4', towerKind: 'T', footLlh: at(600 + 280 * Math.cos(bend), -280 * Math.sin(bend), 0), sigmaM: 0.3 },
    ],
  };
}

const byId = (line: LineModel, id: string) => {
  const found = line.components.find((c) => c.id === id);
  if (!found) throw new Error(`${id} is missing from ${line.components.map((c) => c.id).join('; ')}`);
  return found;
};

test('towers and a template make a line whose strings hang from the arms across the line', () => {
  const line = lineModelFromFile(template(), 'line.json', frame);
  // Two strings and two clamps a phase at tension towers (one pair at the ends), one of each at the suspension tower.
  expect(line.components.filter((c) => c.kind === 'insulator string').length).toBe(2 * (1 + 1 + 2 + 1));
  expect(line.components.filter((c) => c.kind === 'conductor').length).toBe(2 * 3);
  expect(line.components.filter((c) => c.kind === 'earth wire').length).toBe(3);
  const hanging = byId(line, 'T2 1 L1 string');
  // Looking east, left is north. 1e-4: the plumb line 310 m away leans by 5e-5 rad, 1.7 mm at the height of the arm.
  expect(distance(hanging.axisEnuM[0], [310, 8, 34])).toBeLessThan(0.003);
  expect(distance(hanging.axisEnuM[1], [310, 8, 30.5])).toBeLessThan(0.003);
  expect(hanging).toMatchObject({ side: 'left', discs: 21, structureIds: ['T2'] });
  expect(hanging.sigmaM).toBeCloseTo(0.5, 12);
});

test('at a bend the arms stand along the bisector', () => {
  const line = lineModelFromFile(template(), 'line.json', frame);
  const tip = byId(line, 'T3 1 L2 string back').axisEnuM[0];
  const half = (10 * Math.PI) / 180;
  // A right turn of 20 degrees: the right-hand arm points 10 degrees behind due south.
  expect(distance(tip, [600 - 8 * Math.sin(half), -8 * Math.cos(half), 24.5])).toBeLessThan(0.005);
});

test('a tension string leaves the tower as its wire does', () => {
  const line = lineModelFromFile(template(), 'line.json', frame);
  const string = byId(line, 'T3 1 L1 string ahead').axisEnuM;
  const wire = byId(line, 'T3..T4 1 L1').axisEnuM;
  expect(distance(string[1], wire[0])).toBeLessThan(1e-6);
  const along = unit(subtract(string[1], string[0]));
  const leaving = unit(subtract(wire[1], wire[0]));
  // The wire bends by 3.5 m / 1500 m over the length of the string, and by half a piece (1.7 m) to its first chord.
  expect(distance(along, leaving)).toBeLessThan(0.006);
  expect(along[2]).toBeLessThan(-0.05);
});

test('wires hang by the parameter of the template: half a span squared over two C', () => {
  const line = lineModelFromFile(template(), 'line.json', frame);
  const wire = byId(line, 'T1..T2 top');
  // L^2 / 8 C = 310^2 / (8 * 1900) = 6.32 m below the chord from 50 to 54 m.
  expect(distanceToComponent([155, 0, 52 - 6.322], wire).axisDistanceM).toBeLessThan(0.02);
  expect(wire.sigmaM).toBeCloseTo(Math.hypot(0.4, 0.15 * 6.325, 0.3), 2);
});

test('feet given above the sea stand where the same feet above the ellipsoid stand', () => {
  const sea = template();
  sea.heightKind = 'EGM96';
  sea.towers.forEach((t) => (t.footLlh[2] -= egm96UndulationM(t.footLlh[0], t.footLlh[1])));
  const a = lineModelFromFile(sea, 'line.json', frame).structures;
  const b = lineModelFromFile(template(), 'line.json', frame).structures;
  expect(egm96UndulationM(13.7, 47.3)).toBeGreaterThan(40);
  a.forEach((s, i) => expect(distance(s.footEnuM, b[i].footEnuM)).toBeLessThan(1e-6));
});

test.each<[string, (t: LineTemplateFile) => void, string]>([
  [
    'an unknown kind of tower',
    (t) => (t.towers[1].towerKind = 'X'),
    'towers.1.towerKind: found "X", expected one of "S", "T"',
  ],
  ['a tower twice', (t) => (t.towers[2].footLlh = t.towers[1].footLlh), 'found the place of its neighbour in the list'],
  [
    'a conductor that ends',
    (t) => t.towerKinds.S.phases.pop(),
    'towers.1.towerKind: found no conductor "1 L2" on "T2"',
  ],
  ['a height kind left out', (t) => delete (t as Partial<LineTemplateFile>).heightKind, 'heightKind: found nothing'],
])('%s is refused by field', (_what, spoil, message) => {
  const spoilt = template();
  spoil(spoilt);
  expect(() => lineModelFromFile(spoilt, 'line.json', frame)).toThrow(message);
});
