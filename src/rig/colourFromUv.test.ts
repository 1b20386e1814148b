import { expect, test } from 'vitest';
import { idealLens } from '../camera/Lens.ts';
import { colourPx, uvPx } from '../camera/pixel.ts';
import { multiply } from '../maths/mat3.ts';
import { rotationFromVector } from '../maths/rotation.ts';
import { colourFromUv, colourPxFromUv, uvFromColour } from './colourFromUv.ts';
import { lensFromVector, lensVector } from './lensDerivative.ts';
import { applyPlaneModel, fitPlaneModel } from './planeModels.ts';
import type { Registration, TwoCameraModel } from './Registration.ts';
import { fieldScale } from './residualField.ts';

// The pair and the table of errors were computed with OpenCV 4.6.0 projectPoints and numpy.
const MODEL: TwoCameraModel = {
  kind: 'two-camera',
  uv: { ...idealLens(1280, 1024, 2000), cxPx: 640, cyPx: 512, k1: -0.1, k2: 0.02 },
  colour: { ...idealLens(1920, 1200, 2400), cxPx: 960, cyPx: 600, k1: -0.15, k2: 0.05, p1: 0.0005, p2: -0.0003 },
  colourFromUv: {
    rotation: rotationFromVector([0.3, -0.5, 0.2].map((d) => (d * Math.PI) / 180) as [number, number, number]),
    translation: [-0.15, 0.02, 0.01],
  },
  residualField: [],
};
const covariance = new Float64Array(24 * 24);
for (let i = 0; i < 24; i++) covariance[i * 25] = [1, 1, 1, 1, 1e-4, 1e-4, 1e-8, 1e-8, 1e-4][i % 9] * 0.25;
for (let i = 18; i < 24; i++) covariance[i * 25] = 1e-8;
covariance[0 * 24 + 10] = 0.1;
covariance[10 * 24 + 0] = 0.1;
const REGISTRATION: Registration = {
  model: MODEL,
  covariance,
  support: {
    uvHullPx: [
      [100, 100],
      [1180, 100],
      [1180, 924],
      [100, 924],
    ],
    nearestM: 8,
    farthestM: 45,
  },
  heldOutRmsPx: 0.2,
  hash: 'test',
};

/** Pixels of a 21 x 17 grid over the whole uv frame and their colour pixels for points at depth z. */
function gridAtDepth(depthM: number): { uv: [number, number]; colour: readonly [number, number] }[] {
  const pairs = [];
  for (let j = 0; j < 17; j++)
    for (let i = 0; i < 21; i++) {
      const uv: [number, number] = [(i * 1279) / 20, (j * 1023) / 16];
      // Depth, not distance: invert the mapping's own range by the ray's slant.
      const x = (uv[0] - 640) / 2000;
      const y = (uv[1] - 512) / 2000;
      let slant = Math.hypot(x, y, 1);
      const r2 = x * x + y * y;
      slant = Math.hypot(x * (1 + 0.1 * r2), y * (1 + 0.1 * r2), 1);
      pairs.push({ uv, colour: colourPxFromUv(MODEL, uv[0], uv[1], 1 / (depthM * slant))! });
    }
  return pairs;
}

test.each([
  ['affine', 14.855, 1.188, 8.981],
  ['projective', 14.853, 1.054, 8.957],
  ['polynomial degree 2', 14.851, 1.041, 8.956],
  ['polynomial degree 3', 14.815, 0.018, 8.895],
] as const)(
  'a model %s fitted at 40 m leaves at 15 m, 40 m and infinity what numpy found',
  (kind, at15, at40, atInfinity) => {
    const model = fitPlaneModel(
      kind,
      gridAtDepth(40).map((p) => ({ ...p, sigmaPx: 1 })),
      fieldScale(MODEL.uv),
    )!;
    const rms = (depthM: number): number => {
      const grid = gridAtDepth(depthM);
      const sum = grid.reduce((s, { uv, colour }) => {
        const [u, v] = applyPlaneModel(model, uv[0], uv[1]);
        return s + (u - colour[0]) ** 2 + (v - colour[1]) ** 2;
      }, 0);
      return Math.sqrt(sum / grid.length);
    };
    // The published figures have three decimals; the slant of the corner rays is taken to first order here.
    expect(Math.abs(rms(15) - at15)).toBeLessThan(0.004);
    expect(Math.abs(rms(40) - at40)).toBeLessThan(0.002);
    expect(Math.abs(rms(1e12) - atInfinity)).toBeLessThan(0.004);
  },
);

test('the inverse returns the pixel it came from, and its derivatives are the inverses of the others', () => {
  for (const [u, v] of [
    [3, 5],
    [700, 512],
    [1270, 1015],
    [30, 1000],
  ]) {
    const there = colourFromUv(REGISTRATION, uvPx(u, v), 1 / 17);
    if (there.kind === 'refused') throw new Error(there.because);
    const back = uvFromColour(REGISTRATION, there.px, 1 / 17);
    if (back.kind === 'refused') throw new Error(back.because);
    expect(Math.hypot(back.px[0] - u, back.px[1] - v)).toBeLessThan(1e-8);
    const [a, b, c, d] = there.byPixel;
    const [e, f, g, h] = back.byPixel;
    expect(a * e + b * g).toBeCloseTo(1, 9);
    expect(c * f + d * h).toBeCloseTo(1, 9);
  }
});

test('derivatives by pixel and by inverse range are finite differences, with a residual field', () => {
  const field = Array.from({ length: 20 }, (_, i) => 0.3 * Math.sin(i + 1));
  const model = { ...MODEL, kind: 'two-camera with residual field' as const, residualField: field };
  const at = colourFromUv({ ...REGISTRATION, model }, uvPx(1100, 200), 0.04);
  if (at.kind === 'refused') throw new Error(at.because);
  const h = 1e-3;
  const difference = (du: number, dv: number, dr: number): [number, number] => {
    const a = colourPxFromUv(model, 1100 + du, 200 + dv, 0.04 + dr)!;
    const b = colourPxFromUv(model, 1100 - du, 200 - dv, 0.04 - dr)!;
    return [a[0] - b[0], a[1] - b[1]];
  };
  const [byU, byV] = [difference(h, 0, 0), difference(0, h, 0)];
  const byRange = difference(0, 0, 1e-5);
  expect(at.byPixel[0]).toBeCloseTo(byU[0] / (2 * h), 7);
  expect(at.byPixel[2]).toBeCloseTo(byU[1] / (2 * h), 7);
  expect(at.byPixel[1]).toBeCloseTo(byV[0] / (2 * h), 7);
  expect(at.byPixel[3]).toBeCloseTo(byV[1] / (2 * h), 7);
  expect(at.byInverseRange[0]).toBeCloseTo(byRange[0] / 2e-5, 4);
  expect(at.byInverseRange[1]).toBeCloseTo(byRange[1] / 2e-5, 4);
});

test('the covariance of the mapped pixel is that of the parameters through finite differences', () => {
  const at = uvPx(1000, 850);
  const moved = (parameter: number, by: number): readonly [number, number] => {
    const uv = lensVector(MODEL.uv);
    const colour = lensVector(MODEL.colour);
    let { rotation, translation } = MODEL.colourFromUv;
    if (parameter < 9) uv[parameter] += by;
    else if (parameter < 18) colour[parameter - 9] += by;
    else if (parameter < 21) {
      const turn = [0, 0, 0] as [number, number, number];
      turn[parameter - 18] = by;
      rotation = multiply(rotationFromVector(turn), rotation);
    } else
      translation = translation.map((t, i) => (i === parameter - 21 ? t + by : t)) as unknown as typeof translation;
    return colourPxFromUv(
      {
        ...MODEL,
        uv: lensFromVector(uv, MODEL.uv),
        colour: lensFromVector(colour, MODEL.colour),
        colourFromUv: { rotation, translation },
      },
      at[0],
      at[1],
      1 / 15,
    )!;
  };
  const j = Array.from({ length: 24 }, (_, p) => {
    const h = 1e-3 * Math.sqrt(covariance[p * 25]);
    const [a, b] = [moved(p, h), moved(p, -h)];
    return [(a[0] - b[0]) / (2 * h), (a[1] - b[1]) / (2 * h)];
  });
  const entry = (a: number, b: number): number =>
    j.reduce((s, ja, p) => s + j.reduce((t, jb, q) => t + ja[a] * covariance[p * 24 + q] * jb[b], 0), 0);
  const mapped = colourFromUv(REGISTRATION, at, 1 / 15);
  if (mapped.kind === 'refused') throw new Error(mapped.because);
  expect(mapped.covariancePx2[0]).toBeCloseTo(entry(0, 0), 6);
  expect(mapped.covariancePx2[1]).toBeCloseTo(entry(0, 1), 6);
  expect(mapped.covariancePx2[3]).toBeCloseTo(entry(1, 1), 6);
  // 0.2 m at 15 m is 9e-4 per metre: the parallax of 2400 px times 0.15 m moves by 0.32 px.
  const uncertain = colourFromUv(REGISTRATION, at, 1 / 15, 0.2 / 15 ** 2);
  if (uncertain.kind === 'refused') throw new Error(uncertain.because);
  expect(Math.sqrt(uncertain.covariancePx2[0] - mapped.covariancePx2[0])).toBeCloseTo(0.32, 1);
});

test('at infinite range the overlay does not depend on the baseline', () => {
  const apart = { ...MODEL, colourFromUv: { ...MODEL.colourFromUv, translation: [-0.87, 0, 0] as const } };
  const a = colourPxFromUv(MODEL, 812.25, 431.5, 0)!;
  const b = colourPxFromUv(apart, 812.25, 431.5, 0)!;
  expect(Math.hypot(a[0] - b[0], a[1] - b[1])).toBeLessThan(1e-9);
});

test('outside the recorded region and nearer than recorded, the mapping says so', () => {
  const support = (u: number, v: number, inverseRange: number): string => {
    const mapped = colourFromUv(REGISTRATION, uvPx(u, v), inverseRange);
    return mapped.kind === 'mapped' ? mapped.support : mapped.because;
  };
  expect(support(600, 500, 1 / 20)).toBe('supported');
  expect(support(600, 500, 0)).toBe('supported');
  expect(support(50, 500, 1 / 20)).toBe('outside the region of the image that the bench run covered');
  expect(support(600, 500, 1 / 5)).toBe('nearer than the bench run');
});

test('a colour pixel far outside the picture is refused or mapped, never NaN', () => {
  const back = uvFromColour(REGISTRATION, colourPx(1e6, 1e6), 0.02);
  expect(back.kind === 'refused' || Number.isFinite(back.px[0])).toBe(true);
});
