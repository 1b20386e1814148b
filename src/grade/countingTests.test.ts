import { expect, test } from 'vitest';
import {
  liMaSignificance,
  onOffSignificance,
  twoRateProbability,
  twoRateProbabilityFromBoth,
} from './countingTests.ts';

// SciPy 1.10, binomtest: two-sided by likelihood.
test.each([
  [20, 1, 10, 1, 0.0987],
  [10, 1, 20, 1, 0.0987],
  [30, 2, 10, 1, 0.3159],
])('%i counts in %i against %i in %i: two-sided probability %d', (n1, t1, n2, t2, p) => {
  expect(twoRateProbability(n1, t1, n2, t2)).toBeCloseTo(p, 4);
});

test('two-sided probabilities equal the sum over all outcomes no likelier, for every split of 17 counts', () => {
  const p = 0.3;
  const choose = (n: number, k: number): number => (k === 0 ? 1 : (choose(n, k - 1) * (n - k + 1)) / k);
  const chances = Array.from({ length: 18 }, (_, k) => choose(17, k) * p ** k * (1 - p) ** (17 - k));
  chances.forEach((seen, k) => {
    const sum = chances.filter((c) => c <= seen * (1 + 1e-7)).reduce((a, b) => a + b, 0);
    expect(twoRateProbability(k, 3, 17 - k, 7)).toBeCloseTo(sum, 9);
  });
});

test('nothing counted twice over says nothing', () => expect(twoRateProbability(0, 1, 0, 5)).toBe(1));

// First four rows: test values of the open library gammapy; the last SciPy 1.10.
test.each([
  [10, 5, 0.3, 3.58538],
  [10, 23, 0.1, 3.44342],
  [5, 1, 1, 1.70617],
  [1, 20, 1, -4.59037],
  [13, 11, 0.5, 2.09283],
])('Li & Ma eq. 17 for %i on, %i off, alpha %d is %d', (on, off, alpha, sigma) => {
  expect(liMaSignificance(on, off, alpha)).toBeCloseTo(sigma, 5);
});

// Cousins, Linnemann & Tucker 2008, table 1 (from memory; SciPy 1.10 gives the same).
test.each([
  [4, 5, 5, 1.66],
  [6, 18.78, 14.44, 2.63],
  [9, 17.83, 4.69, 1.82],
  [17, 40.11, 10.56, 4.46],
  [50, 55, 2, 2.93],
  [67, 15, 0.5, 2.89],
  [200, 10, 0.1, 2.2],
  [523, 2327, 5.99, 5.93],
])('exact on/off significance of %d against %d with tau %d is %d', (on, off, tau, sigma) => {
  expect(onOffSignificance(on, off, 1 / tau)).toBeCloseTo(sigma, 1);
  expect(Math.abs(onOffSignificance(on, off, 1 / tau) - sigma)).toBeLessThan(0.0051);
});

// Krishnamoorthy & Thomson 2004, section 6, example 1 (weed seeds in clover, after Przyborowski & Wilenski 1940), as printed.
test.each([
  [0, 100, 3, 100, 0.0884],
  [2, 100, 6, 100, 0.1749],
])('%i in %i against %i in %i: the printed probability of both counts, %d', (n1, t1, n2, t2, p) => {
  expect(Math.abs(twoRateProbabilityFromBoth(n1, t1, n2, t2) - p)).toBeLessThan(0.00005 + 1e-6);
});

// The first three by the authors' own Fortran (values of SciPy's test suite, good to 2e-6), the others by SciPy 1.17 itself;
// last column the conditional test by SciPy's binomtest.
test.each([
  [20, 10, 20, 10, 0.999999756892963, 1],
  [10, 10, 10, 10, 0.9999998403241203, 1],
  [3, 100, 20, 300, 0.12202725450896404, null],
  [20, 1, 10, 1, 0.06883178210810925, 0.09873714670538905],
  [3, 1, 12, 2, 0.23547943028982354, 0.4122791373586856],
  [60, 51477.5, 30, 54308.7, 0.0006431445460190444, 0.0006751826586863219],
  [41, 28010, 15, 19017, 0.02904335852513896, 0.04085202628650178],
])('%i in %d against %i in %d: both tests agree with other programs', (n1, t1, n2, t2, fromBoth, conditional) => {
  expect(Math.abs(twoRateProbabilityFromBoth(n1, t1, n2, t2) - fromBoth)).toBeLessThan(2e-6);
  if (conditional !== null) expect(twoRateProbability(n1, t1, n2, t2)).toBeCloseTo(conditional, 8);
});
