/**
 * What a registration is worth where nobody measured: rigs, lenses, misalignments and bench runs drawn at random, calibrated
 * from the positions that finders would give (no pictures), and the mapping held against the truth at ranges that were
 * never recorded. The projection is written out here once more, so that an error of ours can not cancel itself.
 */
import type { Lens } from '../../src/camera/Lens.ts';
import { uvPx } from '../../src/camera/pixel.ts';
import { chiSquareQuantile } from '../../src/maths/distributions.ts';
import { multiply, multiplyVec } from '../../src/maths/mat3.ts';
import { type Random, randomFrom } from '../../src/maths/random.ts';
import { rotationFromVector, rotationX, rotationY, rotationZ } from '../../src/maths/rotation.ts';
import { add, scale, type Vec3 } from '../../src/maths/vec3.ts';
import type { RigDescription } from '../../src/recording/RigDescription.ts';
import { assessRegistration, type MappingError, type TrueRig } from '../../src/rig/assessRegistration.ts';
import type { BenchFrame, BenchRun, SeenMark, TargetMark } from '../../src/rig/BenchObservations.ts';
import { calibrateRig } from '../../src/rig/calibrateRig.ts';
import { colourFromUv } from '../../src/rig/colourFromUv.ts';
import { nominalRegistration } from '../../src/rig/nominalRegistration.ts';
import type { Registration } from '../../src/rig/Registration.ts';
import type { Study } from './Study.ts';

export interface RegistrationStudyOptions {
  /** Number of rigs, or their seeds. Default 60. */
  readonly seeds?: number | readonly number[];
  readonly framesPerSweep?: number;
  readonly onProgress?: (done: string) => void;
}

export interface StudiedRig {
  readonly seed: number;
  /** As built against as it is, over the uv image at 20 m, px. */
  readonly beforeRmsPx: number;
  readonly correspondences: number;
  readonly chosen: string;
  readonly heldOutRmsPx: number;
  /** Two-dimensional RMS of the noise that was in fact drawn, carried to the colour image, px. */
  readonly trueNoisePx: number;
  readonly statedFloorPx: number;
  readonly polynomialHeldOutRmsPx: number;
  readonly polynomialOwnRangeRmsPx: number;
  readonly errors: readonly MappingError[];
  /** For each unseen range, for each of CHECK_PIXELS, squared error over its covariance: chi-square of 2 degrees. */
  readonly normalised: readonly (readonly number[])[];
}

export interface RegistrationStudy {
  readonly rigs: readonly StudiedRig[];
  readonly refused: readonly { readonly seed: number; readonly because: string }[];
  /** The tables. */
  readonly markdown: string;
}

/** Between and beyond the sweeps, which lie at 8-10, 12-13.5, 18-21, 30-38 and 50-60 m. */
export const UNSEEN_RANGES_M = [15, 25, 43, 100, Number.POSITIVE_INFINITY];
const SWEEPS_M = [
  [8, 10],
  [12, 13.5],
  [18, 21],
  [30, 38],
  [50, 60],
] as const;
/** Share of width and height of the uv image: the middle, and four places well inside the corners. */
const CHECK_PIXELS = [
  [0.5, 0.5],
  [0.2, 0.2],
  [0.8, 0.2],
  [0.2, 0.8],
  [0.8, 0.8],
] as const;
/** What the finders' common shift is in real pictures, see `calibrateRig.ts`: drawn once a run. */
const COMMON_SHIFT_PX = 0.02;
const TARGET_SIGMA_M = 0.0005;
const OUTLIER_SHARE = 0.003;

const MARKS: readonly TargetMark[] = (
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

interface Drawn {
  readonly rig: RigDescription;
  readonly truth: TrueRig;
  readonly run: BenchRun;
  readonly noisePx: { readonly uv: number; readonly colour: number };
}

/** Calibrates every drawn rig and gathers the table. The same seeds give the same bytes. */
export const study: Study = ({ seeds = 60, firstSeed = 1, progress }) => {
  const { rigs, refused, markdown } = studyRegistration({
    seeds: Array.from({ length: seeds }, (_, i) => firstSeed + i),
    onProgress: progress,
  });
  const overNoise = rigs.map((rig) => rig.heldOutRmsPx / rig.trueNoisePx).sort((a, b) => a - b);
  const unseen = rigs.flatMap((rig) => rig.errors.map((error) => error.rmsPx));
  return {
    title: 'Registration',
    headline: `${rigs.length} drawn rigs (${refused.length} refused): held-out RMS ${overNoise[overNoise.length >> 1].toFixed(3)} of the noise in the median, ${overNoise[overNoise.length - 1].toFixed(3)} at worst; at ranges never recorded ${Math.max(...unseen).toFixed(3)} px RMS at worst.`,
    markdown,
  };
};

export function studyRegistration(options: RegistrationStudyOptions = {}): RegistrationStudy {
  const seeds =
    typeof options.seeds === 'object' ? options.seeds : Array.from({ length: options.seeds ?? 60 }, (_, i) => i + 1);
  const rigs: StudiedRig[] = [];
  const refused: { seed: number; because: string }[] = [];
  for (const seed of seeds) {
    const drawn = drawBench(seed, options.framesPerSweep ?? 24);
    const outcome = calibrateRig(drawn.rig, drawn.run);
    if (outcome.kind === 'refused') {
      refused.push({ seed, because: outcome.because });
      continue;
    }
    const registration: Registration = { ...outcome.registration, hash: '' };
    const polynomial = outcome.ladder.planeModels.find((m) => m.kind === 'polynomial degree 2') ?? null;
    const row = outcome.ladder.rows.find((r) => r.kind === 'polynomial degree 2')!;
    const ratio = drawn.truth.colour.fxPx / drawn.truth.uv.fxPx;
    rigs.push({
      seed,
      beforeRmsPx: beforeRms(drawn),
      correspondences: outcome.correspondences.length,
      chosen: outcome.ladder.chosen,
      heldOutRmsPx: registration.heldOutRmsPx,
      trueNoisePx: Math.SQRT2 * Math.hypot(ratio * drawn.noisePx.uv, drawn.noisePx.colour),
      statedFloorPx: outcome.statistics.noiseFloorPx,
      polynomialHeldOutRmsPx: row.heldOutRmsPx ?? Number.NaN,
      polynomialOwnRangeRmsPx: row.ownRangeHeldOutRmsPx ?? Number.NaN,
      errors: assessRegistration(registration, drawn.truth, UNSEEN_RANGES_M, polynomial, 32),
      normalised: UNSEEN_RANGES_M.map((rangeM) =>
        CHECK_PIXELS.map(([x, y]) => normalisedSquare(registration, drawn.truth, x, y, rangeM)),
      ),
    });
    options.onProgress?.(`seed ${seed}: held out ${registration.heldOutRmsPx.toFixed(3)} px`);
  }
  return { rigs, refused, markdown: tableOf(rigs, refused) };
}

function drawBench(seed: number, framesPerSweep: number): Drawn {
  const random = randomFrom(seed);
  const between = (a: number, b: number): number => a + (b - a) * random.uniform();
  const uvFocalPx = between(1400, 3000);
  const colourFocalPx = uvFocalPx * 1.5 * between(0.7, 0.95);
  const rig = rigOf(uvFocalPx, colourFocalPx, between(0.1, 0.25));
  const truth = trueRig(rig, random, between(5, 30), 2 * Math.PI * random.uniform());
  const noisePx = { uv: between(0.04, 0.12), colour: between(0.04, 0.1) };
  // What a finder says of itself is off by some factor, the same for the whole run.
  const stated = { uv: noisePx.uv * between(0.8, 1.25), colour: noisePx.colour * between(0.8, 1.25) };
  const shift = [COMMON_SHIFT_PX * random.normal(), COMMON_SHIFT_PX * random.normal()];
  const offBy = (p: Vec3): Vec3 => [
    p[0] + TARGET_SIGMA_M * random.normal(),
    p[1] + TARGET_SIGMA_M * random.normal(),
    p[2] + TARGET_SIGMA_M * random.normal(),
  ];
  const asMade = MARKS.map((m) => ({ ...m, lampM: offBy(m.lampM), discM: offBy(m.discM) }));
  const ranges = SWEEPS_M.map(([a, b]) => between(a, b));
  const seen = (px: readonly [number, number] | null, sigma: number, says: number): SeenMark | null => {
    if (!px) return null;
    const far = random.uniform() < OUTLIER_SHARE ? between(3, 20) : 0;
    return { u: px[0] + sigma * random.normal() + far, v: px[1] + sigma * random.normal() - far / 2, sigmaPx: says };
  };
  const frames: BenchFrame[] = [];
  const half = [(0.46 * 1280) / uvFocalPx, (0.46 * 1024) / uvFocalPx];
  ranges.forEach((rangeM, sweep) => {
    for (let i = 0; i < framesPerSweep; i++) {
      const atMiddle = i === framesPerSweep >> 1;
      const z = atMiddle ? rangeM : rangeM * (1 + 0.02 * random.normal());
      const turn = multiply(
        multiply(rotationY(0.25 * random.normal()), rotationX(0.25 * random.normal())),
        rotationZ(0.1 * random.normal()),
      );
      const at: Vec3 = [between(-half[0], half[0]) * z, between(-half[1], half[1]) * z, z];
      frames.push({
        name: `${sweep}/${i}`,
        tNs: sweep * 1e11 + i * 1e8,
        sweep,
        marks: asMade.map((m, mark) => {
          const lamp = see(truth.uv, add(multiplyVec(turn, m.lampM), at));
          const disc = discCentroid(truth, turn, add(multiplyVec(turn, m.discM), at), m.discDiameterM / 2);
          return {
            mark,
            uv: seen(lamp, noisePx.uv, stated.uv),
            colour: seen(disc && [disc[0] + shift[0], disc[1] + shift[1]], noisePx.colour, stated.colour),
          };
        }),
      });
    }
  });
  const run: BenchRun = {
    marks: MARKS,
    targetSigmaM: TARGET_SIGMA_M,
    sweeps: ranges.map((rangeM, s) => {
      const rangeSigmaM = 0.02 + 0.001 * rangeM;
      // The frame in the middle of the times below is the one that stands at the range measured.
      const fromNs = s * 1e11;
      return {
        name: `about ${rangeM.toFixed(0)} m`,
        fromNs,
        toNs: fromNs + 2 * (framesPerSweep >> 1) * 1e8,
        rangeM: rangeM + rangeSigmaM * random.normal(),
        rangeSigmaM,
      };
    }),
    frames,
  };
  return { rig, truth, run, noisePx };
}

function rigOf(uvFocalPx: number, colourFocalPx: number, baselineM: number): RigDescription {
  const [uvPitchUm, colourPitchUm] = [10, 5];
  const uvMm = (uvFocalPx * uvPitchUm) / 1000;
  const colourMm = (colourFocalPx * colourPitchUm) / 1000;
  return {
    format: 'corposant-rig',
    version: 1,
    id: 'drawn',
    cameras: {
      uv: {
        widthPx: 1280,
        heightPx: 1024,
        bitDepth: 16,
        pixelPitchUm: uvPitchUm,
        focalMm: uvMm,
        focalSigmaMm: 0.004 * uvMm,
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
        pixelPitchUm: colourPitchUm,
        focalMm: colourMm,
        focalSigmaMm: 0.004 * colourMm,
        shutter: 'global',
      },
    },
    pair: { colourInUvM: [baselineM, 0, 0], sigmaM: 0.003, rotationSigmaDeg: 0.7 },
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
}

/** The rig as it is: off its drawing so that the middle of the overlay is `missPx` out in the given direction. */
function trueRig(rig: RigDescription, random: Random, missPx: number, direction: number): TrueRig {
  const lens = (camera: RigDescription['cameras']['uv'] | RigDescription['cameras']['colour']): Lens => {
    const focalPx = ((1000 * camera.focalMm) / camera.pixelPitchUm) * (1 + 0.004 * random.normal());
    return {
      widthPx: camera.widthPx,
      heightPx: camera.heightPx,
      fxPx: focalPx * (1 + 0.0005 * random.normal()),
      fyPx: focalPx,
      cxPx: camera.widthPx / 2 + 0.006 * camera.widthPx * random.normal(),
      cyPx: camera.heightPx / 2 + 0.006 * camera.widthPx * random.normal(),
      k1: 0.4 * (random.uniform() - 0.5),
      k2: 0.1 * random.normal(),
      p1: 4e-4 * random.normal(),
      p2: 4e-4 * random.normal(),
      k3: 0,
    };
  };
  const uv = lens(rig.cameras.uv);
  const colour = lens(rig.cameras.colour);
  const off = [
    (colour.cxPx - 960) / colour.fxPx - (uv.cxPx - 640) / uv.fxPx,
    (colour.cyPx - 600) / colour.fyPx - (uv.cyPx - 512) / uv.fyPx,
  ];
  // A turn about y moves the picture along u, one about x against v.
  const rotation = rotationFromVector([
    off[1] - (missPx * Math.sin(direction)) / colour.fyPx,
    (missPx * Math.cos(direction)) / colour.fxPx - off[0],
    0.004 * random.normal(),
  ]);
  const nominal = rig.pair.colourInUvM;
  const inUv: Vec3 = [
    nominal[0] + 0.003 * random.normal(),
    nominal[1] + 0.003 * random.normal(),
    nominal[2] + 0.003 * random.normal(),
  ];
  return { uv, colour, colourFromUv: { rotation, translation: scale(multiplyVec(rotation, inUv), -1) } };
}

/** A pinhole with the distortion of Brown (1971), in the coefficients' usual sense; null outside the picture. */
function see(lens: Lens, [X, Y, Z]: Vec3): [number, number] | null {
  const x = X / Z;
  const y = Y / Z;
  const r2 = x ** 2 + y ** 2;
  const l = 1 + lens.k1 * r2 + lens.k2 * r2 ** 2 + lens.k3 * r2 ** 3;
  const u = lens.fxPx * (x * l + 2 * lens.p1 * x * y + lens.p2 * (r2 + 2 * x ** 2)) + lens.cxPx;
  const v = lens.fyPx * (y * l + lens.p1 * (r2 + 2 * y ** 2) + 2 * lens.p2 * x * y) + lens.cyPx;
  return u > 0 && v > 0 && u < lens.widthPx - 1 && v < lens.heightPx - 1 ? [u, v] : null;
}

/** Centroid of a disc's picture: points all over it, each with the area that its piece of the disc covers there. */
function discCentroid(
  truth: TrueRig,
  turn: ReturnType<typeof rotationX>,
  centre: Vec3,
  radiusM: number,
): [number, number] | null {
  let u = 0;
  let v = 0;
  let n = 0;
  for (let x = -5; x <= 5; x++)
    for (let y = -5; y <= 5; y++) {
      if (x * x + y * y > 30) continue;
      const p = add(centre, multiplyVec(turn, [(x * radiusM) / 5.5, (y * radiusM) / 5.5, 0]));
      const there = add(multiplyVec(truth.colourFromUv.rotation, p), truth.colourFromUv.translation);
      const px = see(truth.colour, there);
      if (!px) return null;
      // A piece of a plane at depth Z covers 1/Z³ of its size.
      const weight = there[2] ** -3;
      u += weight * px[0];
      v += weight * px[1];
      n += weight;
    }
  return [u / n, v / n];
}

function beforeRms({ rig, truth }: Drawn): number {
  const nominal = nominalRegistration(rig);
  const everywhere = { ...nominal.support, nearestM: 1, farthestM: 1000 };
  const hull = [
    [0, 0],
    [1279, 0],
    [1279, 1023],
    [0, 1023],
  ] as const;
  return assessRegistration({ ...nominal, support: { ...everywhere, uvHullPx: hull } }, truth, [20], null, 64)[0].rmsPx;
}

/** The true colour pixel by bisection-free search: the ray through a uv pixel found by Newton's method on `see` itself. */
function trueColourPx(truth: TrueRig, u: number, v: number, rangeM: number): [number, number] | null {
  const { uv, colour, colourFromUv } = truth;
  const open = { ...uv, widthPx: 1e9, heightPx: 1e9, cxPx: uv.cxPx + 1e6, cyPx: uv.cyPx + 1e6 };
  const project = (x: number, y: number): [number, number] => {
    const px = see(open, [x, y, 1])!;
    return [px[0] - 1e6, px[1] - 1e6];
  };
  let x = (u - uv.cxPx) / uv.fxPx;
  let y = (v - uv.cyPx) / uv.fyPx;
  for (let i = 0; i < 30; i++) {
    const [pu, pv] = project(x, y);
    // The slope of an ideal lens is near enough to close in by a factor of ten or so a step.
    x += (u - pu) / uv.fxPx;
    y += (v - pv) / uv.fyPx;
  }
  const k = 1 / Math.hypot(x, y, 1);
  const direction = multiplyVec(colourFromUv.rotation, [x * k, y * k, k]);
  return see(colour, add(direction, scale(colourFromUv.translation, 1 / rangeM)));
}

function normalisedSquare(registration: Registration, truth: TrueRig, x: number, y: number, rangeM: number): number {
  const u = x * (truth.uv.widthPx - 1);
  const v = y * (truth.uv.heightPx - 1);
  const right = trueColourPx(truth, u, v, rangeM);
  const mapped = colourFromUv(registration, uvPx(u, v), 1 / rangeM);
  if (!right || mapped.kind === 'refused') return Number.NaN;
  const du = mapped.px[0] - right[0];
  const dv = mapped.px[1] - right[1];
  const [a, b, , d] = mapped.covariancePx2;
  return (d * du * du - 2 * b * du * dv + a * dv * dv) / (a * d - b * b);
}

const mean = (x: readonly number[]): number => x.reduce((a, b) => a + b, 0) / x.length;
const rootMeanSquare = (x: readonly number[]): number => Math.sqrt(mean(x.map((v) => v * v)));
const quantile = (x: readonly number[], q: number): number =>
  [...x].sort((a, b) => a - b)[Math.min(x.length - 1, Math.floor(q * x.length))];

function tableOf(rigs: readonly StudiedRig[], refused: RegistrationStudy['refused']): string {
  const ratios = rigs.map((r) => r.heldOutRmsPx / r.trueNoisePx);
  const heldOut = rigs.map((r) => r.heldOutRmsPx);
  const three = (x: number): string => x.toFixed(3);
  const rangeRows = UNSEEN_RANGES_M.map((rangeM, i) => {
    const errors = rigs.map((r) => r.errors[i]);
    const squares = CHECK_PIXELS.map((_, p) => mean(rigs.map((r) => r.normalised[i][p] / 2)));
    return `| ${Number.isFinite(rangeM) ? `${rangeM} m` : 'infinity'} | ${three(rootMeanSquare(errors.map((e) => e.rmsPx)))} | ${three(Math.max(...errors.map((e) => e.rmsPx)))} | ${three(Math.max(...errors.map((e) => e.worstPx)))} | ${squares.map((s) => s.toFixed(2)).join(', ')} | ${rootMeanSquare(errors.map((e) => e.planeRmsPx ?? Number.NaN)).toFixed(1)} |`;
  });
  const n = rigs.length;
  const bounds = [0.025, 0.975].map((p) => (chiSquareQuantile(p, 2 * n) / (2 * n)).toFixed(2));
  // All places of one rig share its errors, so what scatters freely is the mean of each rig.
  const ofRig = rigs.map((r) => mean(r.normalised.flat()) / 2);
  const overall = mean(ofRig);
  const halfWidth = 1.96 * Math.sqrt(mean(ofRig.map((x) => (x - overall) ** 2)) / (n - 1));
  const inside = UNSEEN_RANGES_M.flatMap((_, i) =>
    CHECK_PIXELS.map((_pixel, p) => mean(rigs.map((r) => r.normalised[i][p] / 2))),
  ).filter((s) => s >= Number(bounds[0]) && s <= Number(bounds[1])).length;
  return [
    '## Registration',
    '',
    `${n} rigs drawn at random (seeds ${rigs[0].seed} to ${rigs[n - 1].seed}; refused: ${refused.length}): focal lengths of 1400 to 3000 px, baselines of 0.10 to 0.25 m, distortion k1 up to ±0.2, five sweeps between 8 and 60 m, ${Math.round(mean(rigs.map((r) => r.correspondences)))} correspondences, finders' noise of 0.04 to 0.12 px, misstated by up to a quarter, with 0.3 % of gross errors and a common shift of ${COMMON_SHIFT_PX} px of all discs of a run. As built, the overlay was ${quantile(
      rigs.map((r) => r.beforeRmsPx),
      0.5,
    ).toFixed(
      1,
    )} px out (median; up to ${Math.max(...rigs.map((r) => r.beforeRmsPx)).toFixed(1)}). All RMS are two-dimensional, in colour pixels.`,
    '',
    '| held-out sweeps | median | 95 % of rigs below | worst |',
    '|---|---|---|---|',
    `| RMS, px | ${three(quantile(heldOut, 0.5))} | ${three(quantile(heldOut, 0.95))} | ${three(Math.max(...heldOut))} |`,
    `| RMS / noise that was drawn | ${three(quantile(ratios, 0.5))} | ${three(quantile(ratios, 0.95))} | ${three(Math.max(...ratios))} |`,
    `| polynomial of degree 2, RMS, px | ${quantile(
      rigs.map((r) => r.polynomialHeldOutRmsPx),
      0.5,
    ).toFixed(1)} | ${quantile(
      rigs.map((r) => r.polynomialHeldOutRmsPx),
      0.95,
    ).toFixed(1)} | ${Math.max(...rigs.map((r) => r.polynomialHeldOutRmsPx)).toFixed(1)} |`,
    `| the same, fitted and tried at one range | ${quantile(
      rigs.map((r) => r.polynomialOwnRangeRmsPx),
      0.5,
    ).toFixed(2)} | ${quantile(
      rigs.map((r) => r.polynomialOwnRangeRmsPx),
      0.95,
    ).toFixed(2)} | ${Math.max(...rigs.map((r) => r.polynomialOwnRangeRmsPx)).toFixed(2)} |`,
    '',
    `True error of the mapping at ranges that no sweep had, over the supported region of each rig. NEES: squared error over its predicted covariance, by degree of freedom, at the middle of the image and at four places near its corners; right is 1, and ${bounds[0]} to ${bounds[1]} holds 95 % of such means.`,
    '',
    '| range | RMS over all rigs, px | worst rig, px | worst pixel of any rig, px | NEES | polynomial of degree 2, RMS, px |',
    '|---|---|---|---|---|---|',
    ...rangeRows,
    '',
    `NEES over all places and ranges: ${overall.toFixed(2)} ± ${halfWidth.toFixed(2)} (95 %, from the scatter between rigs); ${inside} of ${UNSEEN_RANGES_M.length * CHECK_PIXELS.length} means within their bounds. Chosen by the ladder: ${[...new Set(rigs.map((r) => r.chosen))].map((kind) => `${kind} (${rigs.filter((r) => r.chosen === kind).length})`).join(', ')}.`,
  ].join('\n');
}
