import { expect, test } from 'vitest';
import { idealLens } from '../../camera/Lens.ts';
import { radFromDeg } from '../../maths/angle.ts';
import { diagonal3 } from '../../maths/mat3.ts';
import type { SystematicErrors } from '../SystematicErrors.ts';
import { errorBudget } from './errorBudget.ts';
import { type FlightAssumptions, flightFigures } from './flightFigures.ts';
import { parallaxPx, rangeNeededM } from './parallax.ts';
import { smearByTurnPx, smearByWayPx } from './smear.ts';

test('a millisecond at 20 m/s, survey-grade angles and half a pixel add up to 0.0451 m at 40 m', () => {
  const budget = errorBudget({
    rangeM: 40,
    speedMps: 20,
    turnRadps: 0,
    focalPx: 2000,
    gnssM: 0.03,
    tiltRad: radFromDeg(0.01),
    headingRad: radFromDeg(0.03),
    boresightRad: radFromDeg(0.01),
    leverArmM: 0.01,
    timeS: 1e-3,
    pixelPx: 0.5,
  });
  // Worked by hand; each part is printed to 0.1 mm.
  const byHand = [0.03, 0.007, 0.0209, 0.007, 0.01, 0.02, 0, 0.01];
  budget.parts.forEach((part, i) => {
    expect(Math.abs(part.sigmaM - byHand[i])).toBeLessThan(5.1e-5);
  });
  expect(Math.abs(budget.acrossM - 0.0451)).toBeLessThan(5e-5);
});

test.each([
  [15, 12.5],
  [20, 7.5],
  [30, 2.5],
  [60, -2.5],
  [100, -4.5],
  [Number.POSITIVE_INFINITY, -7.5],
])('cameras 0.15 m apart, laid over each other at 40 m, disagree at %f m by %f px', (rangeM, byHandPx) => {
  expect(parallaxPx(2000, 0.15, rangeM, 40)).toBeCloseTo(byHandPx, 9); // exact arithmetic, rounding alone
});

test('0.3 px ask for a range known to 1.6 m at 40 m and to 0.225 m at 15 m', () => {
  expect(rangeNeededM(2000, 0.15, 40, 0.3)).toBeCloseTo(1.6, 9);
  expect(rangeNeededM(2000, 0.15, 15, 0.3)).toBeCloseTo(0.225, 9);
});

test('20 ms smear a point over 20 px at 20 m/s from 40 m, and over 20.9 px at 30 degrees a second', () => {
  expect(smearByWayPx(2000, 20, 0.02, 40)).toBeCloseTo(20, 9);
  expect(smearByTurnPx(2000, radFromDeg(30), 0.02)).toBeCloseTo(20.944, 3); // 2000 * pi / 6 * 0.02
});

const LENS = idealLens(640, 512, 1000);
/** Errors that do not matter beside the rays' own. */
const EXACT: SystematicErrors = {
  positionSigmaEnuM: [1e-6, 1e-6, 1e-6],
  attitudeSigmaRad: { roll: 1e-9, pitch: 1e-9, heading: 1e-9 },
  positionCorrelationS: 60,
  attitudeCorrelationS: 60,
  mounting: {
    // Looking out to the right: image right is backwards, image down is down.
    bodyFromUv: { rotation: [-1, 0, 0, 0, 0, 1, 0, 1, 0], translation: [0, 0, 0] },
    leverArmCovarianceM2: diagonal3(1e-12, 1e-12, 1e-12),
    boresightCovarianceRad2: diagonal3(1e-18, 1e-18, 1e-18),
    timeOffsetNs: 0,
    timeOffsetSigmaNs: 1e-3,
  },
  lens: LENS,
  lensCovariance: new Float64Array(81),
};
const ASSUMED: FlightAssumptions = {
  uvLens: LENS,
  colourLens: idealLens(1224, 1024, 1500),
  baselineM: 0.15,
  mounting: EXACT.mounting,
  errors: EXACT,
  frameRateHz: 50,
  exposureS: 1e-9,
  colourExposureS: 1e-3,
  turnRadps: 0,
  eventSigmaPx: 1,
  depthM: 12,
  eventsNeeded: () => 12,
  eventsPerPhotonAt: (rangeM) => 1e-9 / rangeM ** 2,
  leastFrames: 20,
};

test('the depth of a virtual pass is that of least squares over parallel rays, Z² σ / (f √Σx²)', () => {
  const { onePass } = flightFigures(40, 15, ASSUMED);
  if (onePass.kind === 'refused') throw new Error(onePass.because);
  // Twelve rays evenly over the 25.6 m that the image covers.
  const x = Array.from({ length: 12 }, (_, k) => ((k + 0.5) / 12 - 0.5) * 25.6);
  const byFormulaM = (40 * 40) / (1000 * Math.sqrt(x.reduce((sum, v) => sum + v * v, 0)));
  // The formula takes angles as small; at 18 degrees to either side that is good to some per cent.
  expect(onePass.sigma.acrossM / byFormulaM).toBeGreaterThan(0.9);
  expect(onePass.sigma.acrossM / byFormulaM).toBeLessThan(1.1);
  expect(onePass.sigma.upM).toBeCloseTo(40 / 1000 / Math.sqrt(12), 3);
});

test('passes on either side make the depth as good as the root of two, where nothing is shared', () => {
  const { onePass, bothSides } = flightFigures(40, 15, ASSUMED);
  if (onePass.kind === 'refused' || bothSides.kind === 'refused') throw new Error('not placed');
  expect(onePass.sigma.acrossM / bothSides.sigma.acrossM).toBeCloseTo(Math.SQRT2, 2);
});

test('a place is in view for the width of the image over the speed, and the limit is that of its events', () => {
  const figures = flightFigures(40, 15, ASSUMED);
  const frames = ((0.64 * 40) / 15) * 50;
  // 8 px at either border do not count.
  expect(Math.abs(figures.framesInView - frames * (624 / 640))).toBeLessThan(2);
  // 12 events in those frames of 1 ns: the range varies by 1/cos over the pass, its square by 5 % at most.
  const limit = 12 / (figures.framesInView * 1e-9 * (1e-9 / 1600));
  expect((figures.limitHz ?? 0) / limit).toBeGreaterThan(1);
  expect((figures.limitHz ?? 0) / limit).toBeLessThan(1.05);
});
