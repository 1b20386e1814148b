import { multiply, multiplyVec } from '../maths/mat3.ts';
import { randomFrom } from '../maths/random.ts';
import { rotationFromVector, rotationX, rotationY, rotationZ } from '../maths/rotation.ts';
import { add, scale, type Vec3 } from '../maths/vec3.ts';
import type { RigDescription } from '../recording/RigDescription.ts';
import type { TrueRig } from './assessRegistration.ts';
import type { BenchFrame, BenchRun, Rail, TargetMark } from './BenchObservations.ts';
import type { BenchStreams } from './calibrateStreams.ts';
import type { NamedMarks } from './pairByTime.ts';

export const RIG: RigDescription = {
  format: 'corposant-rig',
  version: 1,
  id: 'test rig',
  cameras: {
    uv: {
      widthPx: 1280,
      heightPx: 1024,
      bitDepth: 16,
      pixelPitchUm: 10,
      focalMm: 20,
      focalSigmaMm: 0.1,
      shutter: 'global',
      spotSigmaPx: 1.5,
      blurSigmaPx: 0.9,
      saturationLevel: 4095,
      gainCurve: [{ gain: 1, meanChargeDn: 100 }],
      apertureMm: 10,
      bandNm: [240, 280],
      eventsPerPhoton: 0.1,
    },
    colour: {
      widthPx: 1920,
      heightPx: 1200,
      bitDepth: 8,
      pixelPitchUm: 5,
      focalMm: 12,
      focalSigmaMm: 0.05,
      shutter: 'global',
    },
  },
  pair: { colourInUvM: [0.15, 0, 0], sigmaM: 0.003, rotationSigmaDeg: 0.7 },
  mounting: {
    uvInBodyM: [0, 0, 0],
    leverArmSigmaM: 0.01,
    yawDeg: 90,
    pitchDeg: 0,
    rollDeg: 0,
    boresightSigmaDeg: 0.1,
    timeOffsetSigmaMs: 0.1,
  },
};

export const MARKS: TargetMark[] = (
  [
    ['a', -0.5, -0.35],
    ['b', 0.1, -0.4],
    ['c', 0.52, -0.1],
    ['d', 0.35, 0.38],
    ['e', -0.42, 0.3],
  ] as const
).map(([id, x, y], i) => ({
  id,
  discM: [x, y, 0],
  lampM: [x + (i % 2 ? 0.08 : -0.08), y + 0.02 * i, -0.02],
  discDiameterM: 0.12,
}));

/** A chessboard of 9 x 6 inner corners of 0.1 m with the given lamps on it. */
export const chessboardWith = (lampsM: readonly Vec3[]): TargetMark[] => [
  ...lampsM.map((lampM, i): TargetMark => ({ id: `lamp ${i}`, lampM, discM: lampM, discDiameterM: 0, sees: 'lamp' })),
  ...Array.from({ length: 54 }, (_, i): TargetMark => {
    const at: Vec3 = [0.1 * (i % 9) - 0.4, 0.1 * Math.floor(i / 9) - 0.25, 0];
    return { id: `corner ${i % 9},${Math.floor(i / 9)}`, lampM: at, discM: at, discDiameterM: 0, sees: 'visible' };
  }),
];

export function trueRig(seed: number): TrueRig {
  const random = randomFrom(seed);
  const lens = (w: number, h: number, f: number, k1: number) => ({
    widthPx: w,
    heightPx: h,
    fxPx: f * (1 + 0.004 * random.normal()),
    fyPx: f * (1 + 0.004 * random.normal()),
    cxPx: w / 2 + 0.008 * w * random.normal(),
    cyPx: h / 2 + 0.008 * w * random.normal(),
    k1,
    k2: 0.05,
    p1: 4e-4 * random.normal(),
    p2: 4e-4 * random.normal(),
    k3: 0,
  });
  const rotation = rotationFromVector([0.006 * random.normal(), 0.006 * random.normal(), 0.006 * random.normal()]);
  const inUv: Vec3 = [0.15 + 0.003 * random.normal(), 0.003 * random.normal(), 0.003 * random.normal()];
  return {
    uv: lens(1280, 1024, 2000, -0.15),
    colour: lens(1920, 1200, 2400, 0.1),
    colourFromUv: { rotation, translation: scale(multiplyVec(rotation, inUv), -1) },
  };
}

/** The projection written out once more: this test must not lean on the one that the fit uses. */
function see(lens: TrueRig['uv'], [X, Y, Z]: Vec3): [number, number] | null {
  const x = X / Z;
  const y = Y / Z;
  const r2 = x ** 2 + y ** 2;
  const l = 1 + lens.k1 * r2 + lens.k2 * r2 ** 2 + lens.k3 * r2 ** 3;
  const u = lens.fxPx * (x * l + 2 * lens.p1 * x * y + lens.p2 * (r2 + 2 * x ** 2)) + lens.cxPx;
  const v = lens.fyPx * (y * l + lens.p1 * (r2 + 2 * y ** 2) + 2 * lens.p2 * x * y) + lens.cyPx;
  return u > 0 && v > 0 && u < lens.widthPx - 1 && v < lens.heightPx - 1 ? [u, v] : null;
}

export function benchRun(
  seed: number,
  truth: TrueRig,
  rangesM: readonly number[],
  sigmaUv: number,
  sigmaColour: number,
  perSweep = 60,
  board: readonly TargetMark[] = MARKS,
): BenchRun {
  const random = randomFrom(seed);
  const frames: BenchFrame[] = [];
  rangesM.forEach((rangeM, sweep) => {
    for (let i = 0; i < perSweep; i++) {
      const z = rangeM * (1 + 0.02 * random.normal());
      const rotation = multiply(
        multiply(rotationY(0.25 * random.normal()), rotationX(0.25 * random.normal())),
        rotationZ(0.1 * random.normal()),
      );
      const at: Vec3 = [
        (random.uniform() - 0.5) * 0.56 * z,
        (random.uniform() - 0.5) * 0.45 * z,
        i === perSweep >> 1 ? rangeM : z,
      ];
      const marks = board.map((m, mark) => {
        const lamp = m.sees === 'visible' ? null : see(truth.uv, add(multiplyVec(rotation, m.lampM), at));
        // Discs are seen by their centroid: mean of the outline's segments, as area.
        const centre = add(multiplyVec(rotation, m.discM), at);
        const disc = m.sees === 'lamp' ? null : discCentroid(truth, rotation, centre, m.discDiameterM / 2);
        return {
          mark,
          uv: lamp && {
            u: lamp[0] + sigmaUv * random.normal(),
            v: lamp[1] + sigmaUv * random.normal(),
            sigmaPx: sigmaUv,
          },
          colour: disc && {
            u: disc[0] + sigmaColour * random.normal(),
            v: disc[1] + sigmaColour * random.normal(),
            sigmaPx: sigmaColour,
          },
        };
      });
      frames.push({ name: `${sweep}/${i}`, tNs: sweep * 1e11 + i * 1e8, sweep, marks });
    }
  });
  return {
    marks: board,
    targetSigmaM: 0.0005,
    sweeps: rangesM.map((rangeM, s) => ({
      name: `about ${rangeM} m`,
      fromNs: s * 1e11,
      toNs: s * 1e11 + perSweep * 1e8,
      rangeM,
      rangeSigmaM: 0.02 + 0.002 * rangeM,
    })),
    frames,
  };
}

/** Centroid of the disc's image: a fine grid over the disc, projected point by point. */
function discCentroid(
  truth: TrueRig,
  rotation: ReturnType<typeof rotationX>,
  centre: Vec3,
  radiusM: number,
): [number, number] | null {
  if (radiusM === 0)
    return see(truth.colour, add(multiplyVec(truth.colourFromUv.rotation, centre), truth.colourFromUv.translation));
  let u = 0;
  let v = 0;
  let n = 0; // image area: a piece of a plane at depth Z covers 1/Z³ of it
  for (let x = -7; x <= 7; x++)
    for (let y = -7; y <= 7; y++) {
      if (x * x + y * y > 56) continue;
      const p = add(centre, multiplyVec(rotation, [(x * radiusM) / 7.5, (y * radiusM) / 7.5, 0]));
      const seen = add(multiplyVec(truth.colourFromUv.rotation, p), truth.colourFromUv.translation);
      const px = see(truth.colour, seen);
      if (!px) return null;
      const weight = seen[2] ** -3;
      u += weight * px[0];
      v += weight * px[1];
      n += weight;
    }
  return [u / n, v / n];
}

export interface Carried {
  readonly rangesM: readonly number[];
  readonly sigmaUv: number;
  readonly sigmaColour: number;
  readonly secondsPerSweep: number;
  /** The colour stamps are this much behind the uv clock (t_uv = t_colour + late), and fall back by this. */
  readonly lateMs?: number;
  readonly driftPpm?: number;
  /** On a rail instead of by hand, at this true speed. */
  readonly rail?: Rail & { readonly trueSpeedMps: number };
}

const UV_HZ = 16;
const COLOUR_HZ = 8;

/** The target carried before the rig, seen by both cameras at their own instants. */
export function benchStreams(seed: number, truth: TrueRig, carried: Carried): BenchStreams {
  const random = randomFrom(seed);
  const { rangesM, secondsPerSweep } = carried;
  const fromS = (sweep: number): number => sweep * (secondsPerSweep + 2);
  const lamps: NamedMarks[] = [];
  const discs: NamedMarks[] = [];
  const shape = rangesM.map(() => Array.from({ length: 8 }, () => 2 * Math.PI * random.uniform()));
  const poseAt = (sweep: number, tS: number): { turn: ReturnType<typeof rotationX>; at: Vec3 } => {
    const rangeM = rangesM[sweep];
    const t = tS - fromS(sweep) - secondsPerSweep / 2;
    const wave = (k: number, perS: number): number => Math.sin(perS * t + shape[sweep][k]);
    const turn = multiply(
      multiply(rotationY(0.3 * wave(0, 0.9)), rotationX(0.3 * wave(1, 1.1))),
      rotationZ(0.15 * wave(2, 0.7)),
    );
    if (carried.rail)
      return { turn, at: [carried.rail.trueSpeedMps * t, 0.05 * rangeM * (sweep % 3) - 0.05 * rangeM, rangeM] };
    const at: Vec3 = [
      0.25 * rangeM * wave(3, 1.6),
      0.19 * rangeM * wave(4, 1.1),
      rangeM * (1 + 0.02 * Math.sin(0.8 * t)),
    ];
    return { turn, at };
  };
  rangesM.forEach((_, sweep) => {
    for (let i = 0; i < secondsPerSweep * UV_HZ; i++) {
      const tS = fromS(sweep) + i / UV_HZ;
      const { turn, at } = poseAt(sweep, tS);
      const marks = MARKS.map((m) => {
        const px = see(truth.uv, add(multiplyVec(turn, m.lampM), at));
        const { sigmaUv: s } = carried;
        return px && { u: px[0] + s * random.normal(), v: px[1] + s * random.normal(), sigmaPx: s };
      });
      lamps.push({ name: `uv ${lamps.length}`, tNs: Math.round(tS * 1e9), sweep, marks });
    }
    for (let i = 0; i < secondsPerSweep * COLOUR_HZ; i++) {
      const tS = fromS(sweep) + i / COLOUR_HZ;
      const { turn, at } = poseAt(sweep, tS + 1e-3 * (carried.lateMs ?? 0) + 1e-6 * (carried.driftPpm ?? 0) * tS);
      const marks = MARKS.map((m) => {
        const px = discCentroid(truth, turn, add(multiplyVec(turn, m.discM), at), m.discDiameterM / 2);
        const { sigmaColour: s } = carried;
        return px && { u: px[0] + s * random.normal(), v: px[1] + s * random.normal(), sigmaPx: s };
      });
      discs.push({ name: `colour ${discs.length}`, tNs: Math.round(tS * 1e9), sweep, marks });
    }
  });
  return {
    marks: MARKS,
    targetSigmaM: 0.0005,
    sweeps: rangesM.map((rangeM, s) => ({
      name: `about ${rangeM} m`,
      fromNs: fromS(s) * 1e9,
      toNs: (fromS(s) + secondsPerSweep) * 1e9,
      rangeM,
      rangeSigmaM: 0.02 + 0.002 * rangeM,
      ...(carried.rail ? { rail: carried.rail } : {}),
    })),
    lamps,
    discs,
    stamps: {
      uv: { names: lamps.map((f) => f.name), tNs: lamps.map((f) => f.tNs), rateHz: UV_HZ },
      colour: { names: discs.map((f) => f.name), tNs: discs.map((f) => f.tNs), rateHz: COLOUR_HZ },
    },
  };
}
