import { expect, test } from 'vitest';
import { randomFrom } from '../../maths/random.ts';
import { fitChargeLaw, gammaCdf } from './chargeLaw.ts';

const SHAPE = 1 / 0.36;
const OF = { cutDn: 48, topDn: 2000, noiseDn: 5.6 };

/** Gamma pulse heights of mean `meanDn` with read noise, found with a chance that rises about 28 DN. */
function measured(seed: number, meanDn: number, count: number): number[] {
  const random = randomFrom(seed);
  const charges: number[] = [];
  while (charges.length < count) {
    const q = (meanDn * random.gamma(SHAPE)) / SHAPE + OF.noiseDn * random.normal();
    if (q > 28 + 4 * random.normal()) charges.push(q);
  }
  return charges;
}

test('the gamma law is the one of SciPy 1.10', () => {
  expect(gammaCdf(48, 60, SHAPE)).toBeCloseTo(0.4388964649378279, 10);
  expect(gammaCdf(20, 120, SHAPE)).toBeCloseTo(0.018409111255552453, 10);
  expect(gammaCdf(100, 60, SHAPE)).toBeCloseTo(0.8692622365301746, 10);
});

test.each([
  [60, 11],
  [120, 12],
  [400, 13],
])('events that were too weak to be found do not raise the mean charge of %f DN, seed %i', (meanDn, seed) => {
  const charges = measured(seed, meanDn, 6000);
  const law = fitChargeLaw(charges, OF);
  if (law.kind === 'refused') throw new Error(law.because);
  expect(Math.abs(law.meanDn - meanDn)).toBeLessThan(3 * law.meanSigmaDn);
  expect(Math.abs(law.spread - 0.6)).toBeLessThan(3 * law.spreadSigma);
  expect(law.meanSigmaDn / meanDn).toBeLessThan(0.06);
  expect(law.goodness).toBeGreaterThan(0.001);
  // The plain mean of what was found is off by more than the fit's whole uncertainty at the lowest gain.
  if (meanDn === 60) {
    const plain = charges.reduce((sum, q) => sum + q, 0) / charges.length;
    expect(plain - meanDn).toBeGreaterThan(3 * law.meanSigmaDn);
  }
});

test('a law that is not a gamma law is told by its goodness: two kinds of events, seed 3', () => {
  const random = randomFrom(3);
  const two = Array.from({ length: 8000 }, (_, i) => (i % 2 === 0 ? 90 : 400) * (1 + 0.1 * random.normal()));
  const law = fitChargeLaw(two, OF);
  expect(law.kind === 'fitted' ? law.goodness : 0).toBeLessThan(1e-6);
});

test('charges that drown in the noise, and too few of them, are refused', () => {
  expect(fitChargeLaw(measured(1, 120, 100), OF)).toEqual({ kind: 'refused', because: 'too few events' });
  expect(fitChargeLaw(measured(2, 20, 30_000), OF)).toEqual({ kind: 'refused', because: 'charge drowns in the noise' });
});
