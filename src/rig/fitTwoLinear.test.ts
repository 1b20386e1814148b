import { expect, test } from 'vitest';
import { solveLeastSquares } from '../maths/leastSquares.ts';
import { randomFrom } from '../maths/random.ts';
import { huber } from '../maths/robustLoss.ts';
import { fitTwoLinear, type TwoLinear } from './fitTwoLinear.ts';

/** Planes of 200 pairs with noise and every ninth pair far off. */
function planesWithOutliers(seed: number): TwoLinear {
  const random = randomFrom(seed);
  const count = 200;
  const terms = new Float64Array(3 * count);
  const values = new Float64Array(2 * count);
  const inverseSigma = new Float64Array(count);
  for (let i = 0; i < count; i++) {
    const [x, y] = [2 * random.uniform() - 1, 2 * random.uniform() - 1];
    const sigma = 0.05 + 0.1 * random.uniform();
    const off = i % 9 === 4 ? 3 : 0;
    terms.set([1, x, y], 3 * i);
    values[2 * i] = 4 + 2 * x - 7 * y + sigma * random.normal() + off;
    values[2 * i + 1] = -1 + 5 * x + 3 * y + sigma * random.normal() - 2 * off;
    inverseSigma[i] = 1 / sigma;
  }
  return { terms, termCount: 3, values, inverseSigma };
}

test.each([2, 3, 5])('it ends where a general search for the same robust minimum ends, seed %i', (seed) => {
  const problem = planesWithOutliers(seed);
  const { terms, values, inverseSigma } = problem;
  const general = solveLeastSquares({
    start: new Float64Array(6),
    residualCount: values.length,
    groupSize: 2,
    loss: huber(2.5),
    evaluateInto(residuals, jacobian, c) {
      jacobian?.fill(0);
      for (let r = 0; r < values.length; r++) {
        const [pair, axis] = [r >> 1, r & 1];
        let fitted = 0;
        for (let k = 0; k < 3; k++) {
          fitted += c[3 * axis + k] * terms[3 * pair + k];
          if (jacobian) jacobian[6 * r + 3 * axis + k] = -terms[3 * pair + k] * inverseSigma[pair];
        }
        residuals[r] = (values[r] - fitted) * inverseSigma[pair];
      }
      return true;
    },
  });
  if (general.kind === 'refused') throw new Error(general.because);
  const linear = fitTwoLinear(problem, huber(2.5))!;
  // Both stop at steps of 1e-7 standard deviations; reweighting closes in by a factor a step, so some ten of them are left.
  linear.forEach((c, k) => {
    expect(Math.abs(c - general.parameters[k])).toBeLessThan(1e-5 * Math.sqrt(general.covariance.get(k, k)));
  });
});

test('terms that lie on one line determine nothing', () => {
  const problem = planesWithOutliers(7);
  const onALine = problem.terms.map((t, i) => (i % 3 === 2 ? 0.5 * problem.terms[i - 1] - 0.2 : t));
  expect(fitTwoLinear({ ...problem, terms: onALine })).toBeNull();
});
