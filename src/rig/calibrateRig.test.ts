import { expect, test } from 'vitest';
import { assessRegistration } from './assessRegistration.ts';
import type { BenchRun } from './BenchObservations.ts';
import { benchRun, MARKS, RIG, trueRig } from './bench.fixture.ts';
import { calibrateRig } from './calibrateRig.ts';

test('five ranges give a mapping right to 0.3 px from 15 m to infinity, with its error as predicted, seeds 1 and 2', () => {
  let normalised = 0;
  for (const seed of [1, 2]) {
    const truth = trueRig(seed);
    const outcome = calibrateRig(RIG, benchRun(seed + 50, truth, [8, 12, 18, 28, 45], 0.1, 0.07, 30));
    if (outcome.kind === 'refused') throw new Error(outcome.because);
    const two = outcome.ladder.rows.find((r) => r.kind === 'two-camera')!;
    expect(two.heldOutRmsPx!).toBeLessThan(1.1 * outcome.statistics.noiseFloorPx);
    expect(outcome.statistics.sigmaFactors.uv).toBeGreaterThan(0.9);
    expect(outcome.statistics.sigmaFactors.uv).toBeLessThan(1.1);
    const poly = outcome.ladder.planeModels.find((m) => m.kind === 'polynomial degree 2')!;
    const errors = assessRegistration(
      { ...outcome.registration, hash: '' },
      truth,
      [15, 20, 40, 60, Number.POSITIVE_INFINITY],
      poly,
    );
    for (const e of errors) {
      expect(e.rmsPx).toBeLessThan(0.3);
      expect(e.worstPx).toBeLessThan(1);
      normalised += e.normalisedSquare / 10;
      // No plane model can follow parallax: several px off at some range or other.
    }
    expect(Math.max(...errors.map((e) => e.planeRmsPx!))).toBeGreaterThan(3);
    expect(['two-camera', 'two-camera with residual field']).toContain(outcome.ladder.chosen);
  }
  // Two fits are two draws of a few parameters, and the 0.02 px that the covariance keeps for a common shift of the finders
  // are not in these data: below 1 as a rule, and far below 3.
  expect(normalised).toBeGreaterThan(0.05);
  expect(normalised).toBeLessThan(3);
});

test('a swapped pair of lamps is listed by name and does not move the mapping', () => {
  const truth = trueRig(7);
  const run = benchRun(70, truth, [10, 20], 0.1, 0.07, 30);
  const frame = run.frames.find((f) => f.marks.every((m) => m.uv && m.colour))!;
  const marks = frame.marks.map((m, i) => (i === 2 ? { ...m, uv: { ...m.uv!, u: m.uv!.u + 9 } } : m));
  const spoilt = { ...run, frames: run.frames.map((f) => (f === frame ? { ...f, marks } : f)) };
  const outcome = calibrateRig(RIG, spoilt);
  if (outcome.kind === 'refused') throw new Error(outcome.because);
  expect(outcome.outliers.filter((o) => o.frame === frame.name && o.mark === 'c' && o.camera === 'uv')).toHaveLength(1);
  expect(outcome.outliers.length).toBeLessThanOrEqual(2);
});

test('one range alone calibrates, and says that other ranges rest on the nominal baseline', () => {
  const truth = trueRig(9);
  const outcome = calibrateRig(RIG, benchRun(90, truth, [20], 0.1, 0.07));
  if (outcome.kind === 'refused') throw new Error(outcome.because);
  expect(outcome.ladder.foldedBy).toBe('blocks of time');
  expect(outcome.weaknesses.map((w) => w.what).join()).toContain('one range only');
  const [at20] = assessRegistration({ ...outcome.registration, hash: '' }, truth, [20]);
  expect(at20.rmsPx).toBeLessThan(0.3);
});

test('a single mark still gives a mapping whose error its covariance covers', () => {
  const truth = trueRig(12);
  const full = benchRun(120, truth, [8, 14, 30], 0.1, 0.07, 100);
  const run: BenchRun = {
    ...full,
    marks: [MARKS[1]],
    frames: full.frames.map((f) => ({ ...f, marks: [{ ...f.marks[1], mark: 0 }] })),
  };
  const outcome = calibrateRig(RIG, run);
  if (outcome.kind === 'refused') throw new Error(outcome.because);
  expect(outcome.weaknesses.some((w) => w.what.startsWith('a target of 1 mark'))).toBe(true);
  const errors = assessRegistration({ ...outcome.registration, hash: '' }, truth, [15, 40]);
  for (const e of errors) expect(e.normalisedSquare).toBeLessThan(9); // within three standard deviations
});

test('too few instants are refused with what to record', () => {
  const outcome = calibrateRig(RIG, benchRun(5, trueRig(5), [10], 0.1, 0.07, 5));
  expect(outcome.kind).toBe('refused');
  if (outcome.kind === 'refused') expect(outcome.record).toContain('two sweeps');
});
