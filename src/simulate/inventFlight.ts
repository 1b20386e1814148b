import type { Random } from '../maths/random.ts';
import { add, scale, subtract, unit, type Vec3 } from '../maths/vec3.ts';
import type { FlightPath } from './FlightPath.ts';
import { groundHeightM } from './inventLine.ts';
import { inventWobble } from './Wobble.ts';
import type { FrameTimes, InventedConditions, InventedFlight, InventedLine, Mains, WorldOptions } from './World.ts';

const SPEED_MPS = 15;
const STEP_S = 0.05;
/** From the middle of the line; the nearest phase hangs 6.2 m out. */
const OFF_AXIS_M = 46.2;
/** A year on another pilot keeps further off, and the exposure is shorter. */
const SECOND_YEAR = { offAxisM: 50.5, exposureNs: 16_000_000, gain: 6.3 };
const RUN_OUT_M = 22;
/** Before the first frame and after the last one, so that the trajectory covers them. */
const FIRST_FRAME_S = 1;

const RAD = Math.PI / 180;
const rightOf = (d: Vec3): Vec3 => [d[1], -d[0], 0];
const flat = (v: Vec3): Vec3 => [v[0], v[1], 0];

/** Corners of the way: along the left side of the line, round its end to the right, and back along the other side. */
function corners(
  line: InventedLine,
  offAxisM: number,
): { points: Vec3[]; passLengthsM: [number, number]; turnLengthM: number } {
  const feet = line.structures.map((s) => flat(s.footEnuM));
  const first = unit(subtract(feet[1]!, feet[0]!));
  const last = unit(subtract(feet.at(-1)!, feet.at(-2)!));
  const axis = [subtract(feet[0]!, scale(first, RUN_OUT_M)), ...feet, add(feet.at(-1)!, scale(last, RUN_OUT_M))];
  const rights = axis.map((_, i) =>
    i === 0 ? rightOf(first) : i === axis.length - 1 ? rightOf(last) : flat(line.structures[i - 1]!.rightEnu),
  );
  const side = (sign: number) => axis.map((p, i) => add(p, scale(rights[i]!, sign * offAxisM)));
  const out = side(-1);
  const back = side(1).reverse();
  const centre = axis.at(-1)!;
  const turn: Vec3[] = [];
  for (let k = 1; k < 40; k++) {
    const angle = (Math.PI * k) / 40;
    const right = rightOf(last);
    turn.push(add(centre, add(scale(right, -offAxisM * Math.cos(angle)), scale(last, offAxisM * Math.sin(angle)))));
  }
  const length = (points: Vec3[]) =>
    points.slice(1).reduce((sum, p, i) => sum + Math.hypot(p[0] - points[i]![0], p[1] - points[i]![1]), 0);
  return {
    points: [...out, ...turn, ...back],
    passLengthsM: [length(out), length(back)],
    turnLengthM: length([out.at(-1)!, ...turn, back[0]!]),
  };
}

/** The corners flown at constant speed and rounded off over about a second. */
function inventPath(random: Random, points: readonly Vec3[], flyingHeightM: number): FlightPath {
  const stepM = SPEED_MPS * STEP_S;
  const raw: Vec3[] = [];
  let carry = 0;
  for (let i = 0; i + 1 < points.length; i++) {
    const [a, b] = [points[i]!, points[i + 1]!];
    const lengthM = Math.hypot(b[0] - a[0], b[1] - a[1]);
    const direction = unit(subtract(b, a));
    for (; carry < lengthM; carry += stepM) raw.push(add(a, scale(direction, carry)));
    carry -= lengthM;
  }
  // The first second and the last are flown straight on, for the rows of the trajectory before and after the frames.
  const extra = Math.round(3 / STEP_S);
  const lead = unit(subtract(points[1]!, points[0]!));
  const tail = unit(subtract(points.at(-1)!, points.at(-2)!));
  const padded = [
    ...Array.from({ length: extra }, (_, k) => add(points[0]!, scale(lead, (k - extra) * stepM))),
    ...raw,
    ...Array.from({ length: extra }, (_, k) => add(raw.at(-1)!, scale(tail, (k + 1) * stepM))),
  ];
  const reach = 24;
  const weights = Array.from({ length: 2 * reach + 1 }, (_, k) => Math.exp(-(((k - reach) / 9) ** 2) / 2));
  const smooth = padded.map((_, i) => {
    let [e, n, w] = [0, 0, 0];
    weights.forEach((weight, k) => {
      const p = padded[i + k - reach];
      if (!p) return;
      e += weight * p[0];
      n += weight * p[1];
      w += weight;
    });
    return [e / w, n / w] as const;
  });
  const rows = smooth.slice(reach, smooth.length - reach);
  const meant = new Float64Array(rows.length * 5);
  let heading = Number.NaN;
  rows.forEach(([e, n], i) => {
    const [e0, n0] = rows[Math.max(0, i - 1)]!;
    const [e1, n1] = rows[Math.min(rows.length - 1, i + 1)]!;
    const course = Math.atan2(e1 - e0, n1 - n0);
    heading = Number.isNaN(heading)
      ? course
      : heading + Math.atan2(Math.sin(course - heading), Math.cos(course - heading));
    meant.set([e, n, groundHeightM(e, n) + flyingHeightM, heading, 0], i * 5);
  });
  for (let i = 1; i + 1 < rows.length; i++) {
    const turnRate = (meant[(i + 1) * 5 + 3]! - meant[(i - 1) * 5 + 3]!) / (2 * STEP_S);
    // A multirotor leans into a turn; thrust is not all that turns it, and it must not lean out of what its gimbal-less rig allows.
    meant[i * 5 + 4] = Math.atan((0.6 * SPEED_MPS * turnRate) / 9.81);
  }
  return {
    startS: FIRST_FRAME_S - (extra - reach) * STEP_S,
    stepS: STEP_S,
    meant,
    gusts: {
      east: inventWobble(random, 0.35, 0.04, 0.8),
      north: inventWobble(random, 0.35, 0.04, 0.8),
      up: inventWobble(random, 0.25, 0.04, 0.8),
      yaw: inventWobble(random, 1.3 * RAD, 0.08, 1),
      pitch: inventWobble(random, 1 * RAD, 0.1, 1.1),
      roll: inventWobble(random, 1 * RAD, 0.1, 1.1),
    },
  };
}

/** Evenly spaced stamps with the few microseconds by which a triggered camera wanders. */
function stamps(random: Random, fromS: number, toS: number, rateHz: number, exposureNs: number): FrameTimes {
  const count = Math.floor((toS - fromS) * rateHz);
  const tNs = Float64Array.from({ length: count }, (_, k) =>
    Math.round((fromS + k / rateHz) * 1e9 + 3000 * random.normal()),
  );
  return { tNs, exposureNs };
}

function inventMains(random: Random): Mains {
  return {
    meanHz: 49.97 + 0.01 * random.normal(),
    phaseRad: 2 * Math.PI * random.uniform(),
    wander: inventWobble(random, 2.5, 0.004, 0.05, 6),
  };
}

export function inventFlight(
  random: Random,
  line: InventedLine,
  options: WorldOptions,
): Omit<InventedFlight, 'sources'> {
  const full = options.size === 'full';
  const { year = 1 } = options;
  const { points, passLengthsM, turnLengthM } = corners(line, year === 2 ? SECOND_YEAR.offAxisM : OFF_AXIS_M);
  const path = inventPath(random.fork(1), points, (full ? 27 : 18) + 4.5);
  const passEndS = FIRST_FRAME_S + passLengthsM[0] / SPEED_MPS;
  const backS = passEndS + turnLengthM / SPEED_MPS;
  const endS = backS + passLengthsM[1] / SPEED_MPS;
  const conditions: InventedConditions = {
    temperatureC: Math.round((9 + 4 * random.uniform()) * 10) / 10,
    pressureHPa: Math.round((1006 + 12 * random.uniform()) * 10) / 10,
    relativeHumidityPct: Math.round(70 + 15 * random.uniform()),
    ozonePpb: Math.round((36 + 4 * random.normal()) * 10) / 10,
  };
  const colourRateHz = options.colourRateHz ?? (full ? 25 : 5);
  return {
    name: `Skerrow line, ${year === 2 ? 'next spring' : 'spring'}${full ? ', full' : ''}`,
    epochUtc: year === 2 ? '2027-05-20T06:10:00Z' : '2026-05-12T06:30:00Z',
    path,
    conditions,
    uvRateHz: 50,
    colourRateHz,
    uvTimes: stamps(random.fork(2), FIRST_FRAME_S, endS, 50, year === 2 ? SECOND_YEAR.exposureNs : 18_000_000),
    colourTimes: stamps(random.fork(3), FIRST_FRAME_S + 0.0031, endS, colourRateHz, 1_500_000),
    passes: [
      { fromS: FIRST_FRAME_S, toS: passEndS },
      { fromS: backS, toS: endS },
    ],
    gain: { before: year === 2 ? SECOND_YEAR.gain : 6, after: 6.5, stepAtS: backS + 0.6 * (endS - backS) },
    mains: inventMains(random.fork(4)),
    darkEventsPerFrame: full ? 3 : 2,
    daylightEventsPerFrame: full ? 6 : 3,
    sunAzimuthRad: (100 + 20 * random.uniform()) * RAD,
    sunElevationRad: (14 + 8 * random.uniform()) * RAD,
  };
}
