import { expect, test } from 'vitest';
import {
  type BundleInPlane,
  equivalentRadiusM,
  surfaceGradients,
  twoCylinderGradientKvPerCm,
} from './surfaceGradient.ts';

const PHASE_KV = 420 / Math.sqrt(3);
/** 420 kV, three phases side by side 10 m apart, 15 m up, 0.40 m bundle. */
const flatLine = (count: number, radiusM: number): BundleInPlane[] =>
  [-10, 0, 10].map((xM, i) => ({
    id: String(i),
    xM,
    heightM: 15,
    count,
    radiusM,
    spacingM: 0.4,
    voltageKv: { re: PHASE_KV * Math.cos((2 * Math.PI * i) / 3), im: -PHASE_KV * Math.sin((2 * Math.PI * i) / 3) },
  }));

// Recomputed with NumPy 1.24; the last two columns are a full charge simulation (line charges in every wire, boundary met
// to 1e-5 kV): what the method itself should come near to.
test.each([
  [1, 0.0143, 0.0143, 25.063, 26.378, 25.063, 26.378, 25.11, 26.379],
  [2, 0.0143, 0.07563, 16.645, 17.857, 17.835, 19.134, 17.988, 19.101],
  [3, 0.0143, 0.13177, 12.464, 13.502, 14.008, 15.174, 14.198, 15.153],
  [4, 0.0112, 0.17843, 12.798, 13.953, 14.318, 15.611, 14.56, 15.612],
])(
  'a bundle of %i wires of %d m has the gradients of the potential-coefficient method',
  (n, r, req, meanOuter, meanCentre, outer, centre, exactOuter, exactCentre) => {
    const line = flatLine(n, r);
    expect(equivalentRadiusM(line[0])).toBeCloseTo(req, 5);
    const found = surfaceGradients(line);
    expect(found[0].meanKvPerCm).toBeCloseTo(meanOuter, 3);
    expect(found[1].meanKvPerCm).toBeCloseTo(meanCentre, 3);
    expect(found[0].largestKvPerCm).toBeCloseTo(outer, 3);
    expect(found[1].largestKvPerCm).toBeCloseTo(centre, 3);
    expect(found[2].largestKvPerCm).toBeCloseTo(outer, 3);
    expect(Math.abs(found[0].largestKvPerCm / exactOuter - 1)).toBeLessThan(0.018);
    expect(Math.abs(found[1].largestKvPerCm / exactCentre - 1)).toBeLessThan(0.003);
  },
);

test.each([
  [1, 10, 26.7128],
  [1, 100, 11.077],
  [1.5, 600, 5.5914],
])('100 kV between cylinders of %d cm, %d cm apart, stand at %d kV/cm (exact; charge simulation agrees)', (r, d, e) => {
  expect(twoCylinderGradientKvPerCm(100, r, d)).toBeCloseTo(e, 4);
});

test('two thin wires far from the ground have the gradient of the exact pair', () => {
  const pair = [-3, 3].map(
    (xM, i): BundleInPlane => ({
      id: String(i),
      xM,
      heightM: 5000,
      count: 1,
      radiusM: 0.015,
      spacingM: 0,
      voltageKv: { re: i === 0 ? 50 : -50, im: 0 },
    }),
  );
  // Thin wires neglect the pull of one charge on the other: 0.5 % at 200 radii apart.
  expect(Math.abs(surfaceGradients(pair)[0].largestKvPerCm / 5.5914 - 1)).toBeLessThan(0.006);
});
