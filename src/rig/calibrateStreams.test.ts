import { expect, test } from 'vitest';
import { benchStreams, RIG, trueRig } from './bench.fixture.ts';
import { calibrateStreams } from './calibrateStreams.ts';

test('a colour clock 23 ms late and drifting is measured by the motion, allowed for, and leaves nothing in the mapping, seed 31', () => {
  const truth = trueRig(31);
  const streams = benchStreams(131, truth, {
    rangesM: [9, 13, 20],
    sigmaUv: 0.1,
    sigmaColour: 0.07,
    secondsPerSweep: 4,
    lateMs: 23,
    driftPpm: 60,
  });
  const { outcome, timing } = calibrateStreams(RIG, streams);
  if (outcome.kind === 'refused') throw new Error(outcome.because);
  const { clock } = timing;
  if (clock.kind === 'refused') throw new Error(clock.because);
  expect(timing.applied).toBe(true);
  const expectedMs = 23 + 60e-6 * clock.aboutNs * 1e-6;
  expect(clock.offsetSigmaMs).toBeLessThan(0.05);
  expect(Math.abs(clock.offsetMs - expectedMs)).toBeLessThan(3.5 * clock.offsetSigmaMs);
  expect(Math.abs(clock.driftPpm - 60)).toBeLessThan(3.5 * clock.driftSigmaPpm);
  // What the clock did to the overlay is gone: 23 ms at 300 px/s were 7 px.
  expect(outcome.registration.heldOutRmsPx).toBeLessThan(1.3 * outcome.statistics.noiseFloorPx);
  expect(outcome.statistics.sigmaFactors.uv).toBeLessThan(1.15);
});

test('streams that no one offset brings together are brought together sweep by sweep, seed 34', () => {
  const streams = benchStreams(134, trueRig(34), {
    rangesM: [9, 13, 20],
    sigmaUv: 0.1,
    sigmaColour: 0.07,
    secondsPerSweep: 4,
    lateMs: 5,
    driftPpm: 3000,
  });
  const { outcome, timing } = calibrateStreams(RIG, streams);
  if (outcome.kind === 'refused') throw new Error(outcome.because);
  const { clock } = timing;
  if (clock.kind === 'refused') throw new Error(clock.because);
  expect(Math.abs(clock.driftPpm - 3000)).toBeLessThan(3.5 * clock.driftSigmaPpm);
  expect(outcome.registration.heldOutRmsPx).toBeLessThan(1.3 * outcome.statistics.noiseFloorPx);
});

test('frames missing, delivered twice and exchanged are named, set aside, and do no harm, seed 32', () => {
  const truth = trueRig(32);
  const whole = benchStreams(132, truth, { rangesM: [9, 13, 20], sigmaUv: 0.1, sigmaColour: 0.07, secondsPerSweep: 4 });
  const discs = [...whole.discs];
  discs[20] = { ...whole.discs[20], marks: whole.discs[19].marks };
  discs[40] = { ...whole.discs[40], marks: whole.discs[41].marks };
  discs[41] = { ...whole.discs[41], marks: whole.discs[40].marks };
  const without = whole.lamps.filter((_, i) => i !== 30 && i !== 31);
  const { outcome, timing, leftOut } = calibrateStreams(RIG, {
    ...whole,
    lamps: without,
    discs,
    stamps: {
      ...whole.stamps,
      uv: { rateHz: 16, names: without.map((f) => f.name), tNs: without.map((f) => f.tNs) },
    },
  });
  if (outcome.kind === 'refused') throw new Error(outcome.because);
  expect(timing.faults).toEqual([
    { stream: 'uv', frame: 'uv 29', what: '2 frames missing after it' },
    { stream: 'colour', frame: 'colour 20', what: 'repeats the frame before' },
    { stream: 'colour', frame: 'colour 40', what: 'swapped with the next' },
  ]);
  expect(leftOut.map((l) => l.frame)).toEqual(expect.arrayContaining(['colour 20', 'colour 40', 'colour 41']));
  expect(timing.applied).toBe(false);
  expect(outcome.outliers).toHaveLength(0);
  // 92 instants in three folds: the ranges themselves cost a tenth or two.
  expect(outcome.registration.heldOutRmsPx).toBeLessThan(1.3 * outcome.statistics.noiseFloorPx);
});

test('a rail of known speed gives the scale that a board of unknown size does not, and its own strays are told, seed 33', () => {
  const truth = trueRig(33);
  const rail = { trueSpeedMps: 0.4, speedMps: 0.4, speedSigmaMps: 0.0004, straysM: 0.001 };
  const make = (onRail: boolean): ReturnType<typeof benchStreams> => {
    const streams = benchStreams(133, truth, {
      rangesM: [9, 14],
      sigmaUv: 0.1,
      sigmaColour: 0.07,
      secondsPerSweep: 6,
      rail,
    });
    const sweeps = streams.sweeps.map(({ rail: r, ...sweep }) => ({
      ...sweep,
      rangeSigmaM: 0.5,
      ...(onRail ? { rail: r } : {}),
    }));
    return { ...streams, sweeps, targetSigmaM: 0.01 };
  };
  const [free, held] = [false, true].map((onRail) => {
    const { outcome } = calibrateStreams(RIG, make(onRail));
    if (outcome.kind === 'refused') throw new Error(outcome.because);
    return outcome;
  });
  // Standard deviation of the baseline: scale is what the board leaves open.
  const sigma = (c: typeof free): number => Math.sqrt(c.registration.covariance[21 * 25]);
  expect(sigma(held)).toBeLessThan(0.8 * sigma(free));
  const off = Math.abs(held.registration.model.colourFromUv.translation[0] - truth.colourFromUv.translation[0]);
  expect(off).toBeLessThan(3 * sigma(held));
  expect(free.rails).toEqual([]);
  for (const r of held.rails) {
    expect(Math.abs(r.speedMps - 0.4)).toBeLessThan(0.002);
    // The motion drawn is even to the last bit; what is seen of it is held to a millimetre.
    expect(r.alongRmsMm).toBeLessThan(1.5);
    expect(r.acrossRmsMm).toBeLessThan(2);
    expect(r.frames).toBeGreaterThan(30);
  }
});

test('marks that belong to other instants are no registration, but a refusal that names the stamps, seed 34', () => {
  const whole = benchStreams(134, trueRig(34), {
    rangesM: [9, 13],
    sigmaUv: 0.1,
    sigmaColour: 0.07,
    secondsPerSweep: 3,
  });
  // Played backwards: no offset brings that together.
  const marks = whole.discs.map((d) => d.marks).reverse();
  const discs = whole.discs.map((d, i) => ({ ...d, marks: marks[i] }));
  const { outcome } = calibrateStreams(RIG, { ...whole, discs });
  expect(outcome.kind).toBe('refused');
  if (outcome.kind === 'refused') expect(outcome.because).toMatch(/contradict any mapping|did not come to an end/);
});
