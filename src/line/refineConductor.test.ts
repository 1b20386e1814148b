import { expect, test } from 'vitest';
import { randomFrom } from '../maths/random.ts';
import { refineConductor, type SpanPoint } from './refineConductor.ts';

/** A hanging wire written out: z = C (cosh((x - x0) / C) - cosh(x0 / C)), by bisection for the sag wanted. */
function wire(spanM: number, riseM: number, sagM: number): (x: number) => number {
  const build = (c: number) => {
    const x0 = spanM / 2 - c * Math.asinh(riseM / (2 * c * Math.sinh(spanM / (2 * c))));
    return (x: number) => c * (Math.cosh((x - x0) / c) - Math.cosh(x0 / c));
  };
  let [low, high] = [spanM / 20, 1e7];
  for (let i = 0; i < 200; i++) {
    const c = Math.sqrt(low * high);
    if (riseM / 2 - build(c)(spanM / 2) > sagM) low = c;
    else high = c;
  }
  return build(Math.sqrt(low * high));
}

const nominal = { spanM: 310, riseM: 7, sagM: 8.5, bundleRadiusM: 0.015 };

function cloud(
  seed: number,
  { beside = 0.7, up = -0.4, sagM = 9.3, n = 300, noiseM = 0.03, from = 0, to = 310, outliers = 30 } = {},
): SpanPoint[] {
  const random = randomFrom(seed);
  const z = wire(310, 7, sagM);
  const on = Array.from({ length: n }, () => {
    const xM = from + (to - from) * random.uniform();
    return { xM, besideM: beside + noiseM * random.normal(), zM: up + z(xM) + noiseM * random.normal() };
  });
  // Leaves, birds, another wire's stray returns: anywhere within 3 m.
  const off = Array.from({ length: outliers }, () => {
    const xM = 310 * random.uniform();
    return { xM, besideM: 6 * random.uniform() - 3, zM: wire(310, 7, 8.5)(xM) + 6 * random.uniform() - 3 };
  });
  return [...on, ...off];
}

test.each(Array.from({ length: 20 }, (_, i) => i + 1))(
  'a wire 0.8 m from where it was drawn is found within what its sigma says, seed %i',
  (seed) => {
    const found = refineConductor(cloud(seed), nominal, 2.5);
    if (found.kind !== 'refined') throw new Error(found.because);
    // Five sigmas of the stated: one in a million and a half, twenty times.
    expect(Math.abs(found.sagM - 9.3)).toBeLessThan(5 * found.sagSigmaM);
    expect(Math.abs(found.beside[0] - 0.7)).toBeLessThan(5 * found.endSigmaM);
    expect(Math.abs(found.up[1] - 6.6)).toBeLessThan(5 * found.endSigmaM);
    expect(found.sagSigmaM).toBeLessThan(0.03);
    expect(found.rmsM).toBeGreaterThan(0.02); // drawn 0.03
    expect(found.rmsM).toBeLessThan(0.04);
  },
);

test('what cannot be refined says why', () => {
  const because = (points: readonly SpanPoint[]): string => {
    const found = refineConductor(points, nominal, 2.5);
    return found.kind === 'refined' ? 'refined' : found.because;
  };
  expect(because([])).toBe('0 points within 2.5 m of it');
  expect(because(cloud(31, { from: 20, to: 90 }))).toMatch(/^points on \d+ % of the span only$/);
  expect(because([...cloud(32, { beside: 0.9 }), ...cloud(33, { beside: -0.9 })])).toMatch(/^two wires 1\.\d m apart/);
  // Rain in the air: points everywhere, a wire nowhere.
  expect(because(cloud(34, { n: 0, outliers: 400 }))).not.toBe('refined');
});

test('of a bundle the middle is found', () => {
  const four = [-0.2, 0.2].flatMap((b, i) =>
    [-0.2, 0.2].flatMap((u, j) => cloud(41 + 2 * i + j, { beside: 0.5 + b, up: u, n: 150, outliers: 10 })),
  );
  const found = refineConductor(four, { ...nominal, bundleRadiusM: 0.283 }, 2.5);
  if (found.kind !== 'refined') throw new Error(found.because);
  expect(Math.abs(found.beside[0] - 0.5)).toBeLessThan(0.06); // 600 points, 0.2 m about the middle: 0.02 m at an end
  expect(Math.abs(found.sagM - 9.3)).toBeLessThan(0.06);
});
