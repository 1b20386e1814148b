import { expect, test } from 'vitest';
import {
  disruptiveVoltageKv,
  inceptionCrestKvPerCm,
  inceptionKvPerCm,
  peekLoss,
  petersonLossKwPerKm,
  visualVoltageKv,
} from './peek.ts';

// Peek's formula with m = air density = 1, computed with NumPy 1.24 from his printed constants.
test.each([
  [0.1, 58.555, 41.405, 61.193],
  [0.5, 42.77, 30.243, 44.503],
  [1.0, 39.03, 27.598, 40.548],
  [1.12, 38.533, 27.247, 40.022],
  [1.5, 37.373, 26.427, 38.796],
  [2.0, 36.385, 25.728, 37.751],
])(
  'a wire of %d cm radius glows from %d kV/cm crest, %d rms; inside a cylinder from %d crest',
  (r, crest, rms, inside) => {
    expect(inceptionCrestKvPerCm(r, 1, 1)).toBeCloseTo(crest, 3);
    expect(inceptionKvPerCm(r, 1, 1)).toBeCloseTo(rms, 3);
    expect(inceptionCrestKvPerCm(r, 1, 1, 'concentric cylinders')).toBeCloseTo(inside, 3);
  },
);

/** Books write 3.92 b / (273 + t), b in cm of mercury. */
const printedDensity = (cmHg: number, t: number) => (3.92 * cmHg) / (273 + t);
const LINE = Math.sqrt(3);

test('Wadhwa, Electrical Power Systems, example 6.1: 97.89 kV line, 66.09 kV phase local, 130.83 kV line general', () => {
  const density = printedDensity(73.6, 21);
  expect(density).toBeCloseTo(0.98133, 5);
  expect(LINE * disruptiveVoltageKv(0.52, 250, density, 0.85, 21.1)).toBeCloseTo(97.89, 2);
  expect(visualVoltageKv(0.52, 250, density, 0.7, 21.1)).toBeCloseTo(66.09, 1);
  expect(LINE * visualVoltageKv(0.52, 250, density, 0.8, 21.1)).toBeCloseTo(130.83, 1);
});

test('Wadhwa, example 6.5: critical 54.716 kV, visual 66.10 kV, 0.6716 kW/km fair, 1625.8 kW for 160 km in foul weather', () => {
  const density = printedDensity(73.15, 26.67);
  expect(density).toBeCloseTo(0.95688, 4);
  const critical = disruptiveVoltageKv(0.518, 244, density, 0.85, 21.1);
  expect(critical).toBeCloseTo(54.716, 2);
  expect(visualVoltageKv(0.518, 244, density, 0.72, 21.1)).toBeCloseTo(66.1, 1);
  const fair = peekLoss(63.5, critical, 50, 0.518, 244, density);
  const foul = peekLoss(63.5, critical, 50, 0.518, 244, density, true);
  expect(fair.kind === 'loss' && fair.kwPerKmPerPhase).toBeCloseTo(0.6716, 3);
  expect(foul.kind === 'loss' && foul.kwPerKmPerPhase * 3 * 160).toBeCloseTo(1625.8, 0);
});

test('the same line in another book: Peterson gives 130.87 kW where the book prints ten times as much by a slip', () => {
  expect(3 * 160 * petersonLossKwPerKm(110 / LINE, 50, 0.518, 244, 0.46)).toBeCloseTo(130.87, 1);
});

test('S. N. Singh, example 14.1: 197.95 kV and 236.14 kV between lines', () => {
  const density = printedDensity(72, 27);
  expect(density).toBeCloseTo(0.9408, 4);
  expect(LINE * disruptiveVoltageKv(1, 600, density, 0.9, 21.1)).toBeCloseTo(197.95, 0);
  expect(LINE * visualVoltageKv(1, 600, density, 0.82, 21.1)).toBeCloseTo(236.14, 0);
});

// [V line, f, r, D, t, cm Hg, m, constant, critical, fair, foul]: Singh ex. 14.2; Chakrabarti et al. ex. 8.3.
test.each([
  [220, 50, 1, 400, 20, 73, 0.96, 241, 118.53, 0.667, 9.59],
  [132, 50, 0.585, 300, 20, 72, 0.96, 244, 71.226, 0.208, 3.102],
])('loss of a %d kV line by the handbook', (v, f, r, d, t, b, m, constant, critical, fair, foul) => {
  const density = printedDensity(b, t);
  const found = disruptiveVoltageKv(r, d, density, m, 21.1);
  expect(Math.abs(found / critical - 1)).toBeLessThan(0.001);
  const loss = (wet: boolean) => {
    const l = peekLoss(v / LINE, found, f, r, d, density, wet, constant);
    return l.kind === 'loss' ? l.kwPerKmPerPhase : Number.NaN;
  };
  // The excess over the critical voltage is squared and small: 0.1 kV of rounding is 2 % of 0.667.
  expect(Math.abs(loss(false) / fair - 1)).toBeLessThan(0.03);
  expect(Math.abs(loss(true) / foul - 1)).toBeLessThan(0.005);
});

test('the handbook line of 63.5 kV stands at 1.16 of its critical voltage, below where Peek holds', () => {
  expect(peekLoss(63.5, 54.716, 50, 0.518, 244, 0.95688)).toMatchObject({ kind: 'loss', withinRange: false });
  expect(peekLoss(110, 54.716, 50, 0.518, 244, 0.95688)).toMatchObject({ kind: 'loss', withinRange: true });
});

test('below the critical voltage there is no loss to state', () => {
  expect(peekLoss(50, 60, 50, 1, 400, 1)).toEqual({ kind: 'refused', because: 'below the critical voltage' });
});
