import type { Random } from '../maths/random.ts';
import { add, cross, distance, scale, subtract, unit, type Vec3 } from '../maths/vec3.ts';
import { hangWire } from './catenary.ts';
import { DISC_PITCH_M, DISC_RADIUS_M, groundHeightM } from './inventLine.ts';
import { addStroke, type Rgb, type Shape, type Strokes } from './Strokes.ts';
import { addTower, STEEL } from './towerStrokes.ts';
import type { InventedComponent, InventedLine } from './World.ts';

const ALUMINIUM: Rgb = [148, 150, 152];
const PORCELAIN: Rgb = [138, 78, 54];
const GLASS: Rgb = [132, 176, 164];
const IRON: Rgb = [96, 97, 98];
const CONDUCTOR_STEP_M = 2;

/** Everything that stands or hangs on the line, and the bushes around it, as strokes. */
export function lineStrokes(line: InventedLine, random: Random): Strokes {
  const strokes: Strokes = { rows: [] };
  for (const structure of line.structures) addTower(strokes, structure, random);
  for (const wire of line.conductors) {
    const rgb = wire.kind === 'earth' ? IRON : ALUMINIUM;
    addWires(strokes, wire.startEnuM, wire.endEnuM, wire.sagM, wire.bundle, rgb);
  }
  const twin = line.conductors.find((c) => c.kind === 'phase')!.bundle;
  for (const jumper of line.jumpers) {
    addWires(strokes, jumper.startEnuM, jumper.endEnuM, jumper.sagM, { ...twin, spacingM: 0.3 }, ALUMINIUM, 0.3);
  }
  for (const component of line.components) addComponent(strokes, component);
  addBushes(strokes, line, random);
  return strokes;
}

function addWires(
  strokes: Strokes,
  a: Vec3,
  b: Vec3,
  sagM: number,
  bundle: { readonly count: number; readonly spacingM: number; readonly radiusM: number },
  rgb: Rgb,
  stepM = CONDUCTOR_STEP_M,
): void {
  const wire = hangWire(a, b, sagM);
  const steps = Math.max(8, Math.ceil(distance(a, b) / stepM));
  const along = unit([b[0] - a[0], b[1] - a[1], 0]);
  const right: Vec3 = [along[1], -along[0], 0];
  for (let k = 0; k < bundle.count; k++) {
    const aside = scale(right, (k - (bundle.count - 1) / 2) * bundle.spacingM);
    let from = add(wire(0), aside);
    for (let i = 1; i <= steps; i++) {
      const to = add(wire(i / steps), aside);
      addStroke(strokes, 'tube', from, to, bundle.radiusM, rgb);
      from = to;
    }
  }
}

/** A closed circle of straight pieces. */
function addHoop(strokes: Strokes, centre: Vec3, axis: Vec3, radiusM: number, tubeM: number, rgb: Rgb): void {
  const a = unit(cross(axis, Math.abs(axis[2]) < 0.9 ? [0, 0, 1] : [1, 0, 0]));
  const b = cross(unit(axis), a);
  const at = (i: number) =>
    add(centre, add(scale(a, radiusM * Math.cos((i * Math.PI) / 9)), scale(b, radiusM * Math.sin((i * Math.PI) / 9))));
  for (let i = 0; i < 18; i++) addStroke(strokes, 'rod', at(i), at(i + 1), tubeM, rgb);
}

function addComponent(strokes: Strokes, c: InventedComponent): void {
  const { startEnuM: a, endEnuM: b } = c;
  const rod = (shape: Shape, from: Vec3, to: Vec3, radiusM: number, rgb: Rgb) =>
    addStroke(strokes, shape, from, to, radiusM, rgb);
  switch (c.kind) {
    case 'insulator string': {
      const axis = unit(subtract(b, a));
      const rgb = c.circuit === 'north' ? GLASS : PORCELAIN;
      rod('rod', a, b, 0.022, IRON);
      for (let i = 0; i < c.discs; i++) {
        const centre = add(a, scale(axis, 0.2 + (i + 0.5) * DISC_PITCH_M));
        rod('rod', add(centre, scale(axis, -0.06)), centre, 0.04, IRON);
        rod('disc', centre, add(centre, axis), DISC_RADIUS_M, rgb);
      }
      return;
    }
    case 'ring':
      addHoop(
        strokes,
        a,
        Math.abs(c.alongEnu[2]) < 0.5 && c.id.endsWith('ring') ? [0, 0, 1] : c.alongEnu,
        c.radiusM,
        0.022,
        [176, 178, 180],
      );
      return;
    case 'clamp': {
      const right: Vec3 = unit([c.alongEnu[1], -c.alongEnu[0], 0]);
      for (const side of [-0.2, 0.2]) rod('rod', add(a, scale(right, side)), add(b, scale(right, side)), 0.045, IRON);
      rod('rod', add(a, scale(right, -0.22)), add(a, scale(right, 0.22)), 0.035, IRON);
      rod('rod', add(b, scale(right, -0.22)), add(b, scale(right, 0.22)), 0.03, IRON);
      return;
    }
    case 'spacer':
      rod('rod', a, b, 0.026, IRON);
      rod('rod', add(a, scale(c.alongEnu, -0.06)), add(a, scale(c.alongEnu, 0.06)), 0.035, IRON);
      rod('rod', add(b, scale(c.alongEnu, -0.06)), add(b, scale(c.alongEnu, 0.06)), 0.035, IRON);
      return;
    case 'damper': {
      const inwards = scale(subtract(b, a), 0.25);
      rod('tube', a, b, 0.008, IRON);
      rod('rod', a, add(a, inwards), 0.035, IRON);
      rod('rod', subtract(b, inwards), b, 0.035, IRON);
      return;
    }
    case 'joint':
      rod('rod', a, b, 0.026, STEEL);
  }
}

function addBushes(strokes: Strokes, line: InventedLine, random: Random): void {
  const feet = line.structures.map((s) => s.footEnuM);
  for (let i = 0; i < 1300; i++) {
    const span = Math.floor(random.uniform() * (feet.length - 1));
    const [a, b] = [feet[span]!, feet[span + 1]!];
    const share = 1.4 * random.uniform() - 0.2;
    const right = line.structures[span]!.rightEnu;
    const side = random.uniform() < 0.5 ? -1 : 1;
    const off = side * (10 + 330 * random.uniform() ** 1.4);
    const east = a[0] + share * (b[0] - a[0]) + off * right[0];
    const north = a[1] + share * (b[1] - a[1]) + off * right[1];
    const radiusM = 0.5 + 1.7 * random.uniform() ** 2;
    const green = random.uniform();
    const centre: Vec3 = [east, north, groundHeightM(east, north) + 0.7 * radiusM];
    addStroke(strokes, 'bush', centre, centre, radiusM, [52 + 34 * green, 66 + 26 * green, 36 + 14 * green]);
  }
}
