import { expect, test } from 'vitest';
import { type LeastSquaresProblem, solveLeastSquares } from './leastSquares.ts';
import { randomFrom } from './random.ts';
import { huber } from './robustLoss.ts';

// NIST Statistical Reference Datasets, nonlinear regression, Misra1a (lower difficulty): y = b1 (1 - exp(-b2 x)).
const MISRA_Y = [10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.4, 75.47, 81.78];
const MISRA_X = [77.6, 114.9, 141.1, 190.8, 239.9, 289, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1, 760];

const misra = (start: number[]): LeastSquaresProblem => ({
  start,
  residualCount: MISRA_X.length,
  evaluateInto(residuals, jacobian, [b1, b2]) {
    MISRA_X.forEach((x, i) => {
      const decay = Math.exp(-b2 * x);
      residuals[i] = b1 * (1 - decay) - MISRA_Y[i];
      if (jacobian) {
        jacobian[2 * i] = 1 - decay;
        jacobian[2 * i + 1] = b1 * x * decay;
      }
    });
    return true;
  },
});

test.each([[[500, 0.0001]], [[250, 0.0005]]])(
  'from the start %j, the NIST certified values of Misra1a are met to eight digits',
  (start) => {
    const outcome = solveLeastSquares(misra(start));
    if (outcome.kind !== 'solved') throw new Error(outcome.because);
    expect(outcome.parameters[0] / 238.94212918).toBeCloseTo(1, 8);
    expect(outcome.parameters[1] / 5.5015643181e-4).toBeCloseTo(1, 8);
    expect(outcome.chiSquare / 0.12455138894).toBeCloseTo(1, 8);
    const variance = outcome.chiSquare / (MISRA_X.length - 2);
    expect(Math.sqrt(variance * outcome.covariance.get(0, 0)) / 2.7070075241).toBeCloseTo(1, 6);
    expect(Math.sqrt(variance * outcome.covariance.get(1, 1)) / 7.2668688436e-6).toBeCloseTo(1, 6);
  },
);

const line = (xs: number[], ys: number[], parameters: number): LeastSquaresProblem => ({
  start: new Array(parameters).fill(0),
  residualCount: xs.length,
  evaluateInto(residuals, jacobian, p) {
    xs.forEach((x, i) => {
      residuals[i] = p[0] + p[1] * x - ys[i];
      if (jacobian) {
        jacobian.fill(0, i * parameters, (i + 1) * parameters);
        jacobian[i * parameters] = 1;
        jacobian[i * parameters + 1] = x;
      }
    });
    return true;
  },
});

test('a parameter that no residual depends on is refused as singular, not invented', () => {
  const outcome = solveLeastSquares(line([1, 2, 3], [1, 2, 3.1], 3));
  expect(outcome).toMatchObject({ kind: 'refused', because: 'singular' });
});

test('Huber loss keeps a straight line straight with one wild point in twenty, seed 3', () => {
  const random = randomFrom(3);
  const xs = Array.from({ length: 40 }, (_, i) => i);
  const ys = xs.map((x) => 2 + 0.5 * x + 0.1 * random.normal());
  ys[7] += 40;
  ys[29] += 40;
  const slope = (loss?: ReturnType<typeof huber>) => {
    const outcome = solveLeastSquares({
      ...line(
        xs,
        ys.map((y) => y),
        2,
      ),
      loss,
    });
    if (outcome.kind !== 'solved') throw new Error(outcome.because);
    return outcome.parameters;
  };
  const plain = slope();
  const robust = slope(huber(0.3));
  expect(Math.abs(plain[0] - 2)).toBeGreaterThan(1);
  // Two points in forty pull a Huber line by about 2/40 · threshold / slope of the loss: some hundredths.
  expect(Math.abs(robust[0] - 2)).toBeLessThan(0.12);
  expect(Math.abs(robust[1] - 0.5)).toBeLessThan(0.006);
});
