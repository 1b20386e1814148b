import type { Random } from '../maths/random.ts';
import { add, cross, distance, dot, scale, subtract, unit, type Vec3 } from '../maths/vec3.ts';
import { airTransmission, bandExtinctionsPerM, eventsPerEmittedPhoton } from './air.ts';
import { hangWire } from './catenary.ts';
import { bodyPoseAt } from './FlightPath.ts';
import { DISC_PITCH_M, DISC_RADIUS_M, groundHeightM } from './inventLine.ts';
import { inventWobble } from './Wobble.ts';
import type {
  Discharge,
  HardwareKind,
  InventedComponent,
  InventedFlight,
  InventedLine,
  InventedRig,
  Trap,
} from './World.ts';

/** Events of each discharge in one exposure where the drone passes nearest: from one in ten frames to a blinding one. */
const EVENTS_PER_FRAME = [0.1, 0.14, 0.2, 0.3, 0.5, 1, 2.2, 5, 12, 32] as const;

const PLACES: readonly { kind: HardwareKind | 'conductor'; where: string }[] = [
  { kind: 'insulator string', where: 'disc' },
  { kind: 'clamp', where: 'on the clamp' },
  { kind: 'ring', where: 'on the ring' },
  { kind: 'insulator string', where: 'end fitting' },
  { kind: 'conductor', where: 'broken strand' },
  { kind: 'insulator string', where: 'disc' },
  { kind: 'spacer', where: 'on the spacer' },
  { kind: 'insulator string', where: 'disc' },
  { kind: 'clamp', where: 'on the clamp' },
  { kind: 'ring', where: 'on the ring' },
];

/** Two unit vectors across an axis. */
function across(axis: Vec3): readonly [Vec3, Vec3] {
  const a = unit(cross(axis, Math.abs(axis[2]) < 0.9 ? [0, 0, 1] : [1, 0, 0]));
  return [a, unit(cross(axis, a))];
}

function placeOn(random: Random, component: InventedComponent, where: string): { at: Vec3; note: string } {
  const { startEnuM: start, endEnuM: end } = component;
  const angle = 2 * Math.PI * random.uniform();
  const around = (axis: Vec3, radiusM: number): Vec3 => {
    const [a, b] = across(axis);
    return add(scale(a, radiusM * Math.cos(angle)), scale(b, radiusM * Math.sin(angle)));
  };
  if (component.kind === 'insulator string') {
    const axis = unit(subtract(end, start));
    if (where === 'end fitting') return { at: add(end, scale(axis, -0.1)), note: 'live end fitting' };
    const disc = 1 + Math.floor(component.discs * random.uniform());
    const at = add(start, scale(axis, 0.2 + (disc - 0.5) * DISC_PITCH_M));
    return { at: add(at, around(axis, DISC_RADIUS_M)), note: `disc ${disc} of ${component.discs} from the cross-arm` };
  }
  const middle = scale(add(start, end), 0.5);
  if (component.kind === 'ring') {
    const axis: Vec3 =
      Math.abs(dot(component.alongEnu, [0, 0, 1])) < 0.5 && component.id.endsWith('ring')
        ? [0, 0, 1]
        : component.alongEnu;
    return { at: add(middle, around(axis, component.radiusM)), note: 'rim of the ring' };
  }
  const share = random.uniform();
  return { at: add(start, scale(subtract(end, start), share)), note: where };
}

/** Photon rate that gives so many events in one exposure at this range. */
function rateFor(
  eventsPerFrame: number,
  rangeM: number,
  rig: InventedRig,
  flight: Omit<InventedFlight, 'sources'>,
): number {
  const { apertureMm, eventsPerPhoton } = rig.nominal.cameras.uv;
  const chance =
    eventsPerEmittedPhoton(apertureMm, eventsPerPhoton, rangeM) *
    airTransmission(bandExtinctionsPerM(flight.conditions), rangeM);
  return eventsPerFrame / (chance * flight.uvTimes.exposureNs * 1e-9);
}

const NOMINAL_RANGE_M = 44;

interface Site {
  readonly at: Vec3;
  readonly componentId: string;
  readonly note: string;
}

/** A place on some component of the wanted kind and circuit that no discharge has yet. */
function chooseSite(
  random: Random,
  line: InventedLine,
  place: (typeof PLACES)[number],
  circuit: string,
  taken: ReadonlySet<string>,
): Site {
  const choose = <T>(from: readonly T[]): T => from[Math.floor(from.length * random.uniform())]!;
  if (place.kind === 'conductor') {
    const wire = choose(line.conductors.filter((c) => c.circuit === circuit && !taken.has(c.id)));
    const at = hangWire(wire.startEnuM, wire.endEnuM, wire.sagM)(0.25 + 0.2 * random.uniform());
    return { at, componentId: wire.id, note: place.where };
  }
  const component = choose(
    line.components.filter((c) => c.kind === place.kind && c.circuit === circuit && !taken.has(c.id)),
  );
  return { ...placeOn(random, component, place.where), componentId: component.id };
}

/** Nearer than this, two discharges run into one spot, and what counts as having found both is a matter of taste. */
const APART_M = 2.5;

function inventDischarges(
  random: Random,
  line: InventedLine,
  rig: InventedRig,
  flight: Omit<InventedFlight, 'sources'>,
): Discharge[] {
  const sites: Site[] = [];
  const order = PLACES.map((_, i) => ({ i, key: random.uniform() })).sort((a, b) => a.key - b.key);
  return EVENTS_PER_FRAME.map((eventsPerFrame, rank) => {
    const place = PLACES[order[rank]!.i]!;
    const circuit = rank % 2 === 0 ? 'north' : 'south';
    const taken = new Set(sites.map((site) => site.componentId));
    let site = chooseSite(random, line, place, circuit, taken);
    while (sites.some((other) => distance(other.at, site.at) < APART_M)) {
      site = chooseSite(random, line, place, circuit, taken);
    }
    sites.push(site);
    const flickerSd = 0.2;
    return {
      kind: 'discharge',
      id: `d${rank + 1}`,
      componentId: site.componentId,
      positionEnuM: site.at,
      photonRateHz: rateFor(eventsPerFrame, NOMINAL_RANGE_M, rig, flight),
      pulsesPerHalfCycle: 3 * 2 ** (3 * random.uniform()),
      positiveShare: 0.3 + 0.4 * random.uniform(),
      phaseSpreadRad: 0.3 + 0.2 * random.uniform(),
      flicker: inventWobble(random, flickerSd, 0.1, 3),
      flickerSd,
      note: site.note,
    };
  });
}

/** Strong and weak: a new one must show whatever the noise, and one near the limit may. */
const NEW_EVENTS_PER_FRAME = [3, 0.4] as const;

/** Discharges that were not there before, on components that have none, where `isFlown` says that they are seen. */
export function inventNewDischarges(
  random: Random,
  line: InventedLine,
  rig: InventedRig,
  flight: Omit<InventedFlight, 'sources'>,
  before: readonly Discharge[],
  isFlown: (at: Vec3) => boolean,
): Discharge[] {
  const out: Discharge[] = [];
  NEW_EVENTS_PER_FRAME.forEach((eventsPerFrame, k) => {
    const others = [...before, ...out];
    const taken = new Set(others.map(({ componentId }) => componentId));
    const place = PLACES[k]!;
    const circuit = k % 2 === 0 ? 'south' : 'north';
    let site = chooseSite(random, line, place, circuit, taken);
    while (!isFlown(site.at) || others.some(({ positionEnuM }) => distance(positionEnuM, site.at) < APART_M))
      site = chooseSite(random, line, place, circuit, taken);
    const flickerSd = 0.2;
    out.push({
      kind: 'discharge',
      id: `n${k + 1}`,
      componentId: site.componentId,
      positionEnuM: site.at,
      photonRateHz: rateFor(eventsPerFrame, NOMINAL_RANGE_M, rig, flight),
      pulsesPerHalfCycle: 3 * 2 ** (3 * random.uniform()),
      positiveShare: 0.3 + 0.4 * random.uniform(),
      phaseSpreadRad: 0.3 + 0.2 * random.uniform(),
      flicker: inventWobble(random, flickerSd, 0.1, 3),
      flickerSd,
      note: site.note,
    });
  });
  return out;
}

export function inventTraps(
  random: Random,
  line: InventedLine,
  rig: InventedRig,
  flight: Omit<InventedFlight, 'sources'>,
): Trap[] {
  const [out, back] = flight.passes as [InventedFlight['passes'][number], InventedFlight['passes'][number]];
  const uv = rig.nominal.cameras.uv;
  // A vehicle's lamp on the track behind the line, met while the camera looks over it.
  const meetS = out.fromS + (0.3 + 0.2 * random.uniform()) * (out.toS - out.fromS);
  const pose = bodyPoseAt(flight.path, meetS);
  const ahead: Vec3 = [Math.sin(pose.yawRad), Math.cos(pose.yawRad), 0];
  const right: Vec3 = [ahead[1], -ahead[0], 0];
  const under = add(pose.positionEnuM, scale(right, 96));
  const lampEnuM: Vec3 = [under[0], under[1], groundHeightM(under[0], under[1]) + 3];
  const velocityMps = add(scale(ahead, 6.5), scale(right, 1.2));
  // The sun on the upper bundle of the near circuit, for the moment in which the angle is right.
  const glintS = back.fromS + (0.35 + 0.1 * random.uniform()) * (back.toS - back.fromS);
  const wires = line.conductors.filter((c) => c.circuit === 'south' && c.phase === 'C');
  const glintPose = bodyPoseAt(flight.path, glintS);
  const sideways: Vec3 = [Math.cos(glintPose.yawRad), -Math.sin(glintPose.yawRad), 0];
  const nearest = wires
    .map((wire) => ({
      wire,
      off: Math.abs(
        shareAtAzimuth(wire.startEnuM, wire.endEnuM, glintPose.positionEnuM, Math.atan2(sideways[0], sideways[1])) -
          0.5,
      ),
    }))
    .sort((a, b) => a.off - b.off)[0]!.wire;
  const hot = [
    Math.round(uv.widthPx * (0.2 + 0.6 * random.uniform())),
    Math.round(uv.heightPx * (0.2 + 0.6 * random.uniform())),
  ] as const;
  const ray = [uv.widthPx * (0.2 + 0.6 * random.uniform()), uv.heightPx * (0.2 + 0.6 * random.uniform())] as const;
  const slant = 2 * Math.PI * random.uniform();
  const inPass = (pass: { fromS: number; toS: number }, share: number) => pass.fromS + share * (pass.toS - pass.fromS);
  return [
    {
      kind: 'trap',
      trap: 'moving source',
      id: 't1',
      startEnuM: lampEnuM,
      velocityMps,
      atS: meetS,
      photonRateHz: rateFor(1.5, 98, rig, flight),
      note: `lamp of a vehicle behind the line, ${Math.hypot(...velocityMps).toFixed(1)} m/s`,
    },
    {
      kind: 'trap',
      trap: 'sun glint',
      id: 't2',
      conductorId: nearest.id,
      azimuthRad: Math.atan2(sideways[0], sideways[1]),
      fromS: glintS - 0.4,
      toS: glintS + 0.4,
      eventsPerS: 400,
      note: 'reflection that stays in its direction and so runs along the conductor',
    },
    {
      kind: 'trap',
      trap: 'cosmic ray',
      id: 't3',
      frame: Math.floor((inPass(out, 0.2 + 0.6 * random.uniform()) - flight.uvTimes.tNs[0]! * 1e-9) * flight.uvRateHz),
      fromPx: ray,
      toPx: [ray[0] + 14 * Math.cos(slant), ray[1] + 14 * Math.sin(slant)],
      charge: 60,
      note: 'a trail of one frame',
    },
    {
      kind: 'trap',
      trap: 'hot pixel',
      id: 't4',
      atPx: hot,
      onS: [
        [inPass(out, 0.15), inPass(out, 0.21)],
        [inPass(out, 0.6), inPass(out, 0.63)],
        [inPass(back, 0.4), inPass(back, 0.48)],
      ],
      levelDn: uv.bitDepth === 16 ? 560 : 70,
      note: 'a pixel that comes and goes',
    },
  ];
}

/** Where along a chord, seen from above, the direction from a point meets it: 0 at a, 1 at b. */
export function shareAtAzimuth(a: Vec3, b: Vec3, from: Vec3, azimuthRad: number): number {
  const normal: Vec3 = [Math.cos(azimuthRad), -Math.sin(azimuthRad), 0];
  return dot(subtract(from, a), normal) / dot(subtract(b, a), normal);
}

export function inventSources(
  random: Random,
  line: InventedLine,
  rig: InventedRig,
  flight: Omit<InventedFlight, 'sources'>,
): (Discharge | Trap)[] {
  return [...inventDischarges(random.fork(1), line, rig, flight), ...inventTraps(random.fork(2), line, rig, flight)];
}
