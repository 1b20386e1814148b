import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { egm96UndulationM } from '../src/earth/geoid.ts';
import { InputError } from '../src/input/InputError.ts';
import { checkFlight } from '../src/jobs/check/checkFlight.ts';
import {
  type RecordedRow,
  type SkerryOptions,
  writeSkerryRecording,
} from '../src/jobs/check/skerryRecording.testdata.ts';
import { inspectFlight } from '../src/jobs/inspect/inspectFlight.ts';

/**
 * Each slip that a trajectory or a line is known to come with, committed on purpose in an otherwise sound recording, seed 21:
 * what a user is told by `check` and by `inspect`.
 */
const SILENT = { progress: () => {}, note: () => {} };

async function told(options: SkerryOptions): Promise<string[]> {
  const files = await writeSkerryRecording(options);
  const check = await checkFlight(
    files.recording,
    {
      rigFile: files.rig,
      registrationFile: null,
      mountingFile: null,
      lineFile: files.line,
      structures: [],
      eventsFile: null,
      wantedHz: Number.POSITIVE_INFINITY,
    },
    SILENT,
  ).catch((error: unknown) => {
    if (error instanceof InputError) return error;
    throw error;
  });
  if (check instanceof InputError) return [`refused: ${check.message}`];
  expect(check.fitToGoHome || check.findings.some((f) => f.weight === 'fault') || check.repeat.length > 0).toBe(true);
  return check.findings.filter((f) => f.weight !== 'note').map((f) => `${f.weight}: ${f.name}`);
}

const row = (change: (r: RecordedRow) => Partial<RecordedRow>): SkerryOptions => ({
  slip: (r) => ({ ...r, ...change(r) }),
});
const late = (s: number) => row((r) => ({ tNs: r.tNs + s * 1e9 }));
const SEA_M = egm96UndulationM(-31.9, 44.4);
const RAD = Math.PI / 180;

/** A place where the geoid is so near to the ellipsoid that no height of an aircraft looks impossible: EGM96 is 12.61 m there (cct of PROJ 9.1.1). */
const FLAT: readonly [number, number, number] = [-45, 38, 25];

describe('a slip that is committed is told by its name', () => {
  test('none where there is none', async () => {
    expect(await told({})).toEqual([]);
  }, 120_000);

  test.each([
    ['GPS stamps read as UTC', late(18), 'fault: GPS and UTC mixed up'],
    ['UTC stamps read as GPS', late(-18), 'fault: GPS and UTC mixed up'],
    ['TAI stamps read as UTC', late(37), 'fault: TAI and UTC mixed up'],
    ['GPS stamps read as TAI', late(-19), 'fault: TAI and GPS mixed up'],
    [
      'GPS stamps read as UTC on a flight as on rails, where only the line tells',
      { ...late(18), swayDeg: 0.001 },
      'fault: GPS and UTC mixed up',
    ],
    ['a clock 80 ms off, which has no name', late(0.08), 'warning: clock of the trajectory off'],
    [
      'heights of the flight above the sea',
      row((r) => ({ heightM: r.heightM - SEA_M })),
      'fault: heights of the flight look like heights above the sea',
    ],
    [
      'heights of the line above the sea',
      { lineSlip: ([a, b, h]) => [a, b, h - SEA_M] },
      'fault: heights of the line look like heights above the sea',
    ],
    [
      'heights above the sea where the geoid is 13 m up',
      { origin: FLAT, ...row((r) => ({ heightM: r.heightM - egm96UndulationM(FLAT[0], FLAT[1]) })) },
      'fault: heights of the flight look like heights above the sea',
    ],
    [
      'feet read as metres',
      row((r) => ({ heightM: r.heightM / 0.3048 })),
      'fault: heights of the flight look like feet',
    ],
    // What cct of PROJ 9.1.1 makes of 48 N 9 W by EPSG:1133, ED50 to WGS 84.
    [
      'ED50 read as WGS 84',
      { origin: [-9, 48, 57], ...row((r) => ({ latDeg: r.latDeg + 0.001073825, lonDeg: r.lonDeg + 0.001479388 })) },
      'fault: flight and line look on different datums',
    ],
    // proj: grid north of EPSG:32625 stands 1.3996 degrees east of north there.
    [
      'grid headings read as true',
      { origin: [-31, 44.4, 57], ...row((r) => ({ headingDeg: (r.headingDeg + 360 - 1.3996) % 360 })) },
      'fault: headings look like grid headings',
    ],
    [
      'latitude and longitude exchanged',
      row((r) => ({ latDeg: r.lonDeg, lonDeg: r.latDeg })),
      /^refused: .*Latitude and longitude are swapped/,
    ],
    [
      'radians read as degrees',
      row((r) => ({ latDeg: r.latDeg * RAD, lonDeg: r.lonDeg * RAD })),
      /^refused: .*look like radians/,
    ],
    [
      'attitude in radians',
      row((r) => ({ rollDeg: r.rollDeg * RAD, pitchDeg: r.pitchDeg * RAD, headingDeg: r.headingDeg * RAD })),
      /^refused: .*only as radians/,
    ],
    ['rows that stand still for four seconds', stuckFrom(20, 24), 'warning: stuck'],
  ] as [string, SkerryOptions, string | RegExp][])(
    '%s',
    async (_, options, expected) => {
      const found = await told(options);
      expect(found).toContainEqual(typeof expected === 'string' ? expected : expect.stringMatching(expected));
    },
    120_000,
  );
});

function stuckFrom(fromS: number, toS: number): SkerryOptions {
  let held: RecordedRow | null = null;
  return {
    slip: (r) => {
      const s = r.tNs * 1e-9 - 60;
      if (s < fromS || s > toS) return r;
      held ??= r;
      return { ...held, tNs: r.tNs };
    },
  };
}

describe('an inspection says it as well, and does not pass over it in silence', () => {
  test.each([
    ['GPS stamps read as UTC', { ...late(18), lead: 20 }, 'fault: GPS and UTC mixed up'],
    [
      'heights above the sea where the geoid is 13 m up',
      { origin: FLAT, ...row((r) => ({ heightM: r.heightM - egm96UndulationM(FLAT[0], FLAT[1]) })) },
      'fault: heights of the flight look like heights above the sea',
    ],
  ] as [string, SkerryOptions, string][])(
    '%s',
    async (_, options, expected) => {
      const files = await writeSkerryRecording(options);
      const notes: string[] = [];
      await inspectFlight(
        files.recording,
        {
          campaignFile: join(files.recording, '..', 'c.gpkg'),
          rigFile: files.rig,
          lineFile: files.line,
          registrationFile: null,
          mountingFile: null,
          rulesFile: null,
          falseAlarmsPerHour: 1,
          again: false,
        },
        { progress: () => {}, note: (text) => notes.push(text) },
      );
      expect(notes.join('\n')).toContain(expected);
    },
    240_000,
  );
});
