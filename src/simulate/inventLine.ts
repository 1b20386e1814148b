import type { Random } from '../maths/random.ts';
import { add, scale, subtract, unit, type Vec3 } from '../maths/vec3.ts';
import { hangWire } from './catenary.ts';
import { normalVec } from './inventRig.ts';
import type {
  HardwareKind,
  InventedComponent,
  InventedConductor,
  InventedLine,
  InventedStructure,
  WorldOptions,
} from './World.ts';

const PHASES = ['A', 'B', 'C'] as const;
const CIRCUITS = [
  { id: 'north', side: 'left', sign: -1 },
  { id: 'south', side: 'right', sign: 1 },
] as const;

/** Cap-and-pin discs of 254 mm at a pitch of 146 mm (IEC 60305, from memory): 13 of them suit 220 kV. */
const DISCS = 13;
export const DISC_PITCH_M = 0.146;
export const DISC_RADIUS_M = 0.127;
/** With its fittings at both ends. */
const STRING_M = DISCS * DISC_PITCH_M + 0.4;

const SIGMA_M: Readonly<Record<HardwareKind, number>> = {
  'insulator string': 0.08,
  clamp: 0.08,
  ring: 0.08,
  joint: 0.15,
  spacer: 0.12,
  damper: 0.1,
};
const RADIUS_M: Readonly<Record<HardwareKind, number>> = {
  'insulator string': DISC_RADIUS_M,
  clamp: 0.1,
  ring: 0.2,
  joint: 0.03,
  spacer: 0.2,
  damper: 0.04,
};

const BUNDLE = { count: 2, spacingM: 0.4, radiusM: 0.0134 };
const EARTH_WIRE = { count: 1, spacingM: 0, radiusM: 0.008 };

/** The ground is a plane that leans a little, so that no two feet stand at one height. */
export const groundHeightM = (east: number, north: number): number => 0.012 * east - 0.008 * north;

const heading = (rad: number): Vec3 => [Math.sin(rad), Math.cos(rad), 0];
const rightOf = (d: Vec3): Vec3 => [d[1], -d[0], 0];

function inventStructures(random: Random, options: WorldOptions): InventedStructure[] {
  const full = options.size === 'full';
  const kinds = (full ? 'TSSTSST' : 'TSSTST')
    .split('')
    .map((k): 'tension' | 'suspension' => (k === 'T' ? 'tension' : 'suspension'));
  const bearing = 1.08 + 0.1 * (random.uniform() - 0.5);
  const bend = (random.uniform() < 0.5 ? -1 : 1) * (0.14 + 0.08 * random.uniform());
  const bendAt = kinds.indexOf('tension', 1);
  const directions = kinds.map((_, i) => heading(i < bendAt ? bearing : bearing + bend));
  const lowest = full ? 27 : 18;
  const structures: InventedStructure[] = [];
  let at: Vec3 = [0, 0, 0];
  kinds.forEach((kind, i) => {
    if (i > 0)
      at = add(at, scale(directions[i - 1] as Vec3, full ? 285 + 30 * random.uniform() : 107 + 10 * random.uniform()));
    const foot: Vec3 = [at[0], at[1], groundHeightM(at[0], at[1])];
    const before = directions[Math.max(0, i - 1)] as Vec3;
    const after = directions[i] as Vec3;
    // The conductors are to arrive at like heights: a suspension tower hangs them one string below its arms.
    const arm = kind === 'tension' ? lowest - STRING_M + 0.3 : lowest;
    const sigmaM = 0.05;
    structures.push({
      id: `V${i + 1}`,
      kind,
      footEnuM: foot,
      nominalFootEnuM: add(foot, normalVec(random, sigmaM)),
      sigmaM,
      heightM: arm + 16,
      arms: [
        { levelM: arm, halfWidthM: 4.6 },
        { levelM: arm + 5.5, halfWidthM: 6.2 },
        { levelM: arm + 11, halfWidthM: 4.4 },
      ],
      rightEnu: rightOf(unit(add(before, after))),
    });
  });
  return structures;
}

/** A line with its hardware as it stands, and the errors of the list that its owner keeps of it. */
export function inventLine(random: Random, options: WorldOptions): InventedLine {
  const structures = inventStructures(random, options);
  const components: InventedComponent[] = [];
  const conductors: InventedConductor[] = [];
  const jumpers: { startEnuM: Vec3; endEnuM: Vec3; sagM: number }[] = [];
  const spanSag = options.size === 'full' ? 8.2 : 2.1;

  const mount = (
    kind: HardwareKind,
    place: {
      id: string;
      structureId: string | null;
      spanId: string | null;
      circuit: string;
      phase: string;
      side: 'left' | 'right';
    },
    startEnuM: Vec3,
    endEnuM: Vec3,
    alongEnu: Vec3,
    discs = 0,
  ): void => {
    components.push({
      ...place,
      kind,
      startEnuM,
      endEnuM,
      alongEnu,
      nominalShiftM: normalVec(random, SIGMA_M[kind]),
      sigmaM: SIGMA_M[kind],
      discs,
      radiusM: RADIUS_M[kind],
    });
  };

  for (const circuit of CIRCUITS) {
    for (const [level, phase] of PHASES.entries()) {
      const { side } = circuit;
      /** Where the conductor of the span behind ends and the one ahead begins, at each structure. */
      const ends: { back: Vec3; ahead: Vec3 }[] = [];
      const tips = structures.map((s) => {
        const arm = s.arms[level]!;
        return add(add(s.footEnuM, [0, 0, arm.levelM]), scale(s.rightEnu, circuit.sign * arm.halfWidthM));
      });
      structures.forEach((s, i) => {
        const tip = tips[i]!;
        const place = (suffix: string) => ({
          id: `${s.id}-${circuit.id}-${phase}-${suffix}`,
          structureId: s.id,
          spanId: null,
          circuit: circuit.id,
          phase,
          side,
        });
        const towards = (j: number): Vec3 => unit(subtract(tips[j]!, tip));
        if (s.kind === 'suspension') {
          const end = add(tip, [0, 0, -STRING_M]);
          const along = unit(subtract(tips[i + 1]!, tips[i - 1]!));
          mount('insulator string', place('string'), tip, end, along, DISCS);
          mount('ring', place('ring'), add(end, [0, 0, 0.25]), add(end, [0, 0, 0.25]), along);
          const low = add(end, [0, 0, -0.12]);
          mount('clamp', place('clamp'), add(low, scale(along, -0.15)), add(low, scale(along, 0.15)), along);
          ends.push({ back: low, ahead: low });
        } else {
          const at = { back: tip, ahead: tip };
          for (const [name, j] of [
            ['back', i - 1],
            ['ahead', i + 1],
          ] as const) {
            if (j < 0 || j >= structures.length) continue;
            // A tension string carries on the line of the conductor, which leaves it falling by 4 sag / span.
            const d = unit(add(towards(j), [0, 0, -((4 * spanSag) / (options.size === 'full' ? 300 : 112))]));
            const end = add(tip, scale(d, STRING_M));
            mount('insulator string', place(`string-${name}`), tip, end, d, DISCS);
            mount('ring', place(`ring-${name}`), add(end, scale(d, -0.25)), add(end, scale(d, -0.25)), d);
            mount('clamp', place(`clamp-${name}`), end, add(end, scale(d, 0.4)), d);
            at[name] = add(end, scale(d, 0.4));
          }
          ends.push(at);
          if (i > 0 && i < structures.length - 1) jumpers.push({ startEnuM: at.back, endEnuM: at.ahead, sagM: 1.7 });
        }
      });
      for (let i = 0; i + 1 < structures.length; i++) {
        const [from, to] = [structures[i]!, structures[i + 1]!];
        const a = ends[i]!.ahead;
        const b = ends[i + 1]!.back;
        const sagM = spanSag * (0.97 + 0.06 * random.uniform());
        conductors.push(
          conductor(
            random,
            `${from.id}-${to.id}-${circuit.id}-${phase}`,
            'phase',
            from,
            to,
            circuit.id,
            phase,
            a,
            b,
            sagM,
            0.12,
          ),
        );
        const wire = hangWire(a, b, sagM);
        const spanM = Math.hypot(b[0] - a[0], b[1] - a[1]);
        const along = unit([b[0] - a[0], b[1] - a[1], 0]);
        const span = (suffix: string) => ({
          id: `${from.id}-${to.id}-${circuit.id}-${phase}-${suffix}`,
          structureId: null,
          spanId: `${from.id}..${to.id}`,
          circuit: circuit.id,
          phase,
          side,
        });
        const across = scale(rightOf(along), BUNDLE.spacingM / 2);
        for (const [k, share] of [0.17, 0.5, 0.83].entries()) {
          const p = wire(share + 0.02 * (random.uniform() - 0.5));
          mount('spacer', span(`spacer-${k + 1}`), subtract(p, across), add(p, across), along);
        }
        for (const [name, share] of [
          ['damper-1', 1.3 / spanM],
          ['damper-2', 1 - 1.3 / spanM],
        ] as const) {
          const p = add(wire(share), add(across, [0, 0, -0.08]));
          mount('damper', span(name), add(p, scale(along, -0.2)), add(p, scale(along, 0.2)), along);
        }
        if (i === 1 && level === 1) {
          const p = wire(0.36);
          mount(
            'joint',
            span('joint'),
            add(add(p, across), scale(along, -0.4)),
            add(add(p, across), scale(along, 0.4)),
            along,
          );
        }
      }
    }
  }
  for (let i = 0; i + 1 < structures.length; i++) {
    const [from, to] = [structures[i]!, structures[i + 1]!];
    const a = add(from.footEnuM, [0, 0, from.heightM]);
    const b = add(to.footEnuM, [0, 0, to.heightM]);
    conductors.push(
      conductor(random, `${from.id}-${to.id}-earth`, 'earth', from, to, 'earth', 'earth', a, b, spanSag * 0.8, 0.12),
    );
  }
  return {
    name: 'Skerrow Bay to Hollin Head',
    owner: 'Vessary Island Grid',
    voltageKv: 220,
    structures,
    components,
    conductors,
    jumpers,
  };
}

function conductor(
  random: Random,
  id: string,
  kind: 'phase' | 'earth',
  from: InventedStructure,
  to: InventedStructure,
  circuit: string,
  phase: string,
  startEnuM: Vec3,
  endEnuM: Vec3,
  sagM: number,
  sagSigmaM: number,
): InventedConductor {
  return {
    id,
    kind,
    fromStructureId: from.id,
    toStructureId: to.id,
    circuit,
    phase,
    startEnuM,
    endEnuM,
    sagM,
    nominal: {
      startEnuM: add(startEnuM, normalVec(random, 0.08)),
      endEnuM: add(endEnuM, normalVec(random, 0.08)),
      sagM: sagM + sagSigmaM * random.normal(),
    },
    sagSigmaM,
    bundle: kind === 'phase' ? BUNDLE : EARTH_WIRE,
  };
}
