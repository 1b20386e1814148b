import { expect, test } from 'vitest';
import { relativeAirDensityPeek } from '../earth/airDensity.ts';
import type { LineComponent, LineModel } from '../line/LineModel.ts';
import { expectCorona } from './expectCorona.ts';
import { gradientsOfSpan } from './gradientsOfSpan.ts';

const SEA_LEVEL = 1;
/** Centre phase of a 420 kV line with bundles of four wires of 11.2 mm radius. */
const FIELD = { largestKvPerCm: 15.6, radiusCm: 1.12 };

test('a 420 kV quad bundle stands at 0.72 of inception when dry: no glow is expected on a sound wire', () => {
  const found = expectCorona('conductor', { weather: 'dry', airDensity: SEA_LEVEL }, FIELD);
  expect(found.expectedness).toBe('unexpected');
  // Inception 27.25 kV/cm rms times the surface factor 0.8: 21.8.
  expect(found.gradientOverInception![1]).toBeCloseTo(0.716, 2);
  expect(found.reasoning).toContain('inception 21.8 to 24.5 kV/cm');
});

test('the same bundle in rain reaches 1.15 of inception on a rough wet surface, and is borderline over the range of wet surfaces', () => {
  const found = expectCorona('conductor', { weather: 'rain', airDensity: SEA_LEVEL }, FIELD);
  expect(found.gradientOverInception![1]).toBeCloseTo(1.146, 2);
  expect(found.expectedness).toBe('borderline');
});

test('at 2000 m the inception falls to 0.866 of sea level', () => {
  // ISO 2533: 794.95 hPa and 2 °C; against 1 at 25 °C the sea-level reference of the worked value is Peek's own.
  const low = expectCorona('conductor', { weather: 'dry', airDensity: 1 }, FIELD);
  const high = expectCorona('conductor', { weather: 'dry', airDensity: relativeAirDensityPeek(2, 794.952) }, FIELD);
  expect(low.gradientOverInception![0] / high.gradientOverInception![0]).toBeCloseTo(0.866, 2);
});

test('a glow on a dry ring is unexpected, on a wet string expected, on the unknown borderline', () => {
  expect(expectCorona('ring', { weather: 'dry', airDensity: 1 }, null).expectedness).toBe('unexpected');
  expect(expectCorona('insulator string', { weather: 'fog', airDensity: 1 }, null).expectedness).toBe('expected');
  expect(expectCorona('clamp', { weather: 'rain', airDensity: 1 }, null).expectedness).toBe('borderline');
  expect(expectCorona(null, { weather: 'dry', airDensity: 1 }, null).expectedness).toBe('borderline');
});

/** A span of 300 m along the north-east, three phases side by side 10 m apart, lowest 15 m over feet at 120 m. */
function span(phases: readonly string[]): LineModel {
  const k = Math.SQRT1_2;
  const wire = (phase: string, xM: number): LineComponent => ({
    id: `wire ${phase}`,
    kind: 'conductor',
    structureIds: ['A', 'B'],
    circuit: '1',
    phase,
    axisEnuM: [0, 75, 150, 225, 300].map(
      (s) => [s * k + xM * k, s * k - xM * k, 135 + ((s - 150) / 150) ** 2 * 8] as const,
    ),
    radiusM: 0.0112,
    sigmaM: 0.2,
    discs: 0,
    bundle: { count: 4, spacingM: 0.4, radiusM: 0.0112 },
  });
  const foot = (id: string, s: number) => ({
    id,
    kind: 'suspension' as const,
    footEnuM: [s * k, s * k, 120] as const,
    heightM: 40,
    sigmaM: 0.1,
  });
  return {
    name: 'l',
    owner: 'o',
    voltageKv: 420,
    structures: [foot('A', 0), foot('B', 300)],
    components: phases.map((phase, i) => wire(phase, (i - 1) * 10)),
  };
}

test('the middle of a span has the gradients of the flat line: 14.318 and 15.611 kV/cm', () => {
  const found = gradientsOfSpan(span(['a', 'b', 'c']), ['A', 'B']);
  if (found.kind !== 'computed') throw new Error(found.because);
  // Potential coefficients and Markt-Mengele for this geometry, computed with NumPy 1.24.
  expect(found.byComponent.get('wire a')!.largestKvPerCm).toBeCloseTo(14.318, 3);
  expect(found.byComponent.get('wire b')!.largestKvPerCm).toBeCloseTo(15.611, 3);
  expect(found.byComponent.get('wire c')!.largestKvPerCm).toBeCloseTo(14.318, 3);
  expect(found.byComponent.get('wire b')!.radiusCm).toBeCloseTo(1.12, 9);
});

test('what is not there is refused with its reason', () => {
  expect(gradientsOfSpan(span(['a', 'b', 'c']), ['A', 'C'])).toEqual({
    kind: 'refused',
    because: 'no conductor in this span',
  });
  expect(gradientsOfSpan(span(['a', 'b', 'b']), ['A', 'B'])).toEqual({
    kind: 'refused',
    because: 'phases not recognised',
  });
});
