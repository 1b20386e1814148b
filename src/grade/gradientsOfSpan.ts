import type { LineComponent, LineModel } from '../line/LineModel.ts';
import type { Vec3 } from '../maths/vec3.ts';
import { type BundleGradient, type BundleInPlane, surfaceGradients } from './surfaceGradient.ts';

export interface SpanWire extends BundleGradient {
  readonly radiusCm: number;
  /** Geometric mean of the distances to the other two phases of its circuit, and between those; null for an earth wire. */
  readonly spacingM: number | null;
}

export type SpanGradients =
  | {
      readonly kind: 'computed';
      readonly byComponent: ReadonlyMap<string, SpanWire>;
    }
  | {
      readonly kind: 'refused';
      readonly because: 'no conductor in this span' | 'phases not recognised' | 'conductor below ground';
    };

/**
 * Surface gradients of all wires of one span, in the plane across the line at the middle of the span, where the wires hang
 * lowest and stand in the strongest field. Earth wires are at earth potential. The ground is level at the mean height of
 * the span's two feet.
 * @param structureIds the two ends of the span
 */
export function gradientsOfSpan(line: LineModel, structureIds: readonly string[]): SpanGradients {
  const wires = line.components.filter(
    (c) =>
      (c.kind === 'conductor' || c.kind === 'earth wire') &&
      structureIds.length === 2 &&
      structureIds.every((id) => c.structureIds.includes(id)),
  );
  if (!wires.some((c) => c.kind === 'conductor')) return { kind: 'refused', because: 'no conductor in this span' };
  const feet = line.structures.filter((s) => structureIds.includes(s.id)).map((s) => s.footEnuM);
  const groundM = feet.reduce((sum, foot) => sum + foot[2], 0) / Math.max(feet.length, 1);
  const axis = wires[0].axisEnuM;
  const [from, to] = [axis[0], axis[axis.length - 1]];
  const length = Math.hypot(to[0] - from[0], to[1] - from[1]);
  const across: Vec3 = [(to[1] - from[1]) / length, -(to[0] - from[0]) / length, 0];
  const bundles: BundleInPlane[] = [];
  for (const wire of wires) {
    const middle = lowestAtMiddle(wire, from, to);
    const heightM = middle[2] - groundM;
    if (!(heightM > 0)) return { kind: 'refused', because: 'conductor below ground' };
    const voltageKv = wire.kind === 'earth wire' ? { re: 0, im: 0 } : phasor(line, wire);
    if (!voltageKv) return { kind: 'refused', because: 'phases not recognised' };
    bundles.push({
      id: wire.id,
      xM: across[0] * middle[0] + across[1] * middle[1],
      heightM,
      count: wire.bundle?.count ?? 1,
      radiusM: wire.bundle?.radiusM ?? wire.radiusM,
      spacingM: wire.bundle?.spacingM ?? 0,
      voltageKv,
    });
  }
  const gradients = surfaceGradients(bundles);
  return {
    kind: 'computed',
    byComponent: new Map(
      gradients.map((g, i) => [
        g.id,
        {
          ...g,
          radiusCm: bundles[i].radiusM * 100,
          spacingM: spacingOf(wires, bundles, wires[i].circuit, wires[i].kind),
        },
      ]),
    ),
  };
}

function spacingOf(
  wires: readonly LineComponent[],
  bundles: readonly BundleInPlane[],
  circuit: string,
  kind: LineComponent['kind'],
): number | null {
  if (kind === 'earth wire') return null;
  const own = bundles.filter((_, i) => wires[i].kind === 'conductor' && wires[i].circuit === circuit);
  const logs = own.flatMap((a, i) =>
    own.slice(i + 1).map((b) => Math.log(Math.hypot(a.xM - b.xM, a.heightM - b.heightM))),
  );
  return logs.length === 0 ? null : Math.exp(logs.reduce((sum, x) => sum + x, 0) / logs.length);
}

/** The wire's place half-way between the ends of the span, along the line. */
function lowestAtMiddle(wire: LineComponent, from: Vec3, to: Vec3): Vec3 {
  const along = (p: Vec3): number =>
    ((p[0] - from[0]) * (to[0] - from[0]) + (p[1] - from[1]) * (to[1] - from[1])) /
    ((to[0] - from[0]) ** 2 + (to[1] - from[1]) ** 2);
  for (let i = 1; i < wire.axisEnuM.length; i++) {
    const [a, b] = [wire.axisEnuM[i - 1], wire.axisEnuM[i]];
    const [s, t] = [along(a), along(b)];
    if ((s <= 0.5 && t >= 0.5) || (s >= 0.5 && t <= 0.5)) {
      const k = s === t ? 0.5 : (0.5 - s) / (t - s);
      return [a[0] + k * (b[0] - a[0]), a[1] + k * (b[1] - a[1]), a[2] + k * (b[2] - a[2])];
    }
  }
  return wire.axisEnuM[wire.axisEnuM.length >> 1];
}

/** Phases of a circuit in the order of their names stand 120 degrees apart; a circuit of other than three is not recognised. */
function phasor(line: LineModel, wire: LineComponent): { re: number; im: number } | null {
  const phases = [
    ...new Set(line.components.filter((c) => c.kind === 'conductor' && c.circuit === wire.circuit).map((c) => c.phase)),
  ].sort();
  if (phases.length !== 3) return null;
  const angle = (-2 * Math.PI * phases.indexOf(wire.phase)) / 3;
  const toEarth = line.voltageKv / Math.sqrt(3);
  return { re: toEarth * Math.cos(angle), im: toEarth * Math.sin(angle) };
}
