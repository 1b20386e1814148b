import { expect, test } from 'vitest';
import type { JobWatch } from '../JobWatch.ts';
import { type Damage, FRAMES, writeBayFlight } from './bayFlight.testdata.ts';
import { checkFlight, type FlightCheck } from './checkFlight.ts';

const SILENT: JobWatch = { progress: () => {}, note: () => {} };

async function checked(damage: Damage = {}, wantedHz = Number.POSITIVE_INFINITY): Promise<FlightCheck> {
  const files = await writeBayFlight(damage);
  return checkFlight(
    files.flight,
    {
      rigFile: files.rig,
      registrationFile: files.registration,
      mountingFile: null,
      lineFile: files.line,
      structures: [],
      eventsFile: null,
      wantedHz,
    },
    SILENT,
  );
}

const faultsOf = (check: FlightCheck): string[] =>
  check.findings.filter((f) => f.weight === 'fault').map((f) => f.name);
const placesOf = (check: FlightCheck): string[] => check.repeat.map((r) => r.place);

test('a sound flight is fit to go home, with its rig in agreement and everything seen', async () => {
  const check = await checked();
  expect(check.findings.filter((f) => f.weight !== 'note')).toEqual([]);
  expect(check.repeat).toEqual([]);
  expect(check.fitToGoHome).toBe(true);
  expect(check.figures.uvFrames).toBe(FRAMES);
  expect(check.figures.framesRead).toBeLessThan(FRAMES);
  // Rendered: 3 background events a frame, and up to 2 sources of 0.8; some overlap or fall off the border.
  expect(check.figures.eventsPerFrame.least).toBeGreaterThan(2);
  expect(check.figures.eventsPerFrame.most).toBeLessThan(5);
  expect(check.figures.synchronisation).toMatchObject({ locked: true });
  expect(check.figures.synchronisation?.meanOffsetMs).toBeCloseTo(4, 3); // written 4 ms late, to the nanosecond
  const { pairs, normalisedRms } = check.figures.agreement;
  expect(pairs.length).toBeGreaterThan(0);
  expect(pairs.every((pair) => pair.agrees)).toBe(true);
  expect(normalisedRms).toBeGreaterThan(0.8); // some 300 residuals: 1 to 4 %, and the stated blur is not exact
  expect(normalisedRms).toBeLessThan(1.2);
  expect(check.figures.coverage).toMatchObject({ components: 3, clear: 3 });
});

test('a tower whose every pass lies in a gap of the frames is to be flown again, and the other is not', async () => {
  // The eastern tower B2 is passed in the first seconds, seen from afar in the turn, and passed in the last.
  const check = await checked({ framesMissing: (s) => (s > 0.2 && s < 3.3) || s > 6.8 });
  expect(check.fitToGoHome).toBe(false);
  expect(placesOf(check)).toContain('B2');
  expect(placesOf(check)).not.toContain('B1');
  const gap = check.findings.find((f) => f.name === 'uv: gap');
  expect(gap?.toNs).toBe(2e9 + 3.3e9); // the first frame after it
});

test('a hole in the trajectory leaves frames without a pose, and what they saw counts as not seen', async () => {
  // Both passes of the western tower B1, and the turn between, which sees it from afar.
  const hole = (s: number): boolean => s > 3.2 && s < 19.8;
  const check = await checked({ rowsMissing: hole });
  expect(check.findings.map((f) => f.name)).toContain('frames without a pose');
  // 16.6 s of 50 frames, less the frame on either side.
  expect(check.figures.framesWithPose).toBeLessThan(FRAMES - 828);
  expect(placesOf(check)).toContain('B1');
  expect(check.fitToGoHome).toBe(false);
});

test('a trajectory that stands still while the aircraft flies is named', async () => {
  const check = await checked({ poseOf: (s) => (s > 2 && s < 4 ? 2 : s) });
  expect(check.findings.some((f) => f.area === 'trajectory' && f.weight !== 'note' && f.name === 'stuck')).toBe(true);
});

test('sensor rows that never change are named by number', async () => {
  const check = await checked({ stuckRows: [40, 41, 90] });
  expect(faultsOf(check)).toContain('stuck rows');
  expect(check.findings.find((f) => f.name === 'stuck rows')?.detail).toMatch(/^sensor rows 40, 41, 90 never change/);
  expect(check.fitToGoHome).toBe(false);
});

test('a gain told wrong shows in the charge of single events', async () => {
  const check = await checked({ gain: 2 }); // whose curve promises three times the charge
  expect(faultsOf(check)).toContain('charge does not fit the gain');
  expect(check.figures.chargeRatio).toBeGreaterThan(0.25);
  expect(check.figures.chargeRatio).toBeLessThan(0.45);
});

test('a gain outside the curve of the rig is a fault that does not hide the others', async () => {
  const check = await checked({ gain: 9, stuckRows: [12] });
  expect(faultsOf(check)).toEqual(expect.arrayContaining(['gain outside the curve', 'stuck rows']));
});

test('a camera turned by 1.2 degrees puts the same source 1.3 m apart from two sides', async () => {
  const check = await checked({ yawSlipDeg: 1.2 });
  expect(faultsOf(check)).toContain('passes disagree');
  const pairs = check.figures.agreement.pairs;
  expect(pairs.length).toBeGreaterThan(0);
  // Twice 30 m times 1.2 degrees; each place is good to a few centimetres along the line.
  for (const pair of pairs) expect(Math.abs(pair.apartM - 2 * 30 * Math.tan((1.2 * Math.PI) / 180))).toBeLessThan(0.25);
});

test('a colour stream 18 s late is told as GPS and UTC mixed up', async () => {
  const check = await checked({ colourLateS: 18 });
  expect(faultsOf(check)).toContain('GPS and UTC mixed up');
});

test('a flight that saw everything but must find weaker discharges than it could is flown again', async () => {
  const check = await checked({}, 1);
  expect(check.fitToGoHome).toBe(false);
  expect(check.repeat.every((r) => r.because === 'seen, but only a stronger discharge would have been found')).toBe(
    true,
  );
});
