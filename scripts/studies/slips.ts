/**
 * How surely slips in a trajectory or a line are told, and how often a sound flight is accused: each slip committed on purpose in
 * recordings drawn anew, and held against what `corposant check` says. Slips are made here, by figures of PROJ where a datum or a grid
 * is meant; the product is asked as a user would ask it.
 */
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { egm96UndulationM } from '../../src/earth/geoid.ts';
import { InputError } from '../../src/input/InputError.ts';
import { checkFlight } from '../../src/jobs/check/checkFlight.ts';
import {
  type RecordedRow,
  type SkerryOptions,
  writeSkerryRecording,
} from '../../src/jobs/check/skerryRecording.testdata.ts';
import { randomFrom } from '../../src/maths/random.ts';
import { wilsonInterval } from '../../src/sighting/detectionCurve.ts';
import { isTimeUp, NotYetDone, pieceInTurn } from './pieces.ts';
import type { Study } from './Study.ts';

type Llh = readonly [number, number, number];
/** In the open sea, with the geoid from 13 to 63 m off the ellipsoid. */
const PLACES: readonly Llh[] = [
  [-31.9, 44.4, 57],
  [-45, 38, 25],
  [-20.3, 51.2, 61],
  [-9, 48, 57],
];
const RAD = Math.PI / 180;

interface Slip {
  readonly name: string;
  readonly expected: RegExp;
  readonly origin?: Llh;
  /** At a place, what is done to the recording. */
  readonly commit: (at: Llh) => Pick<SkerryOptions, 'slip' | 'lineSlip' | 'swayDeg'>;
}

const rows = (change: (row: RecordedRow) => Partial<RecordedRow>): Pick<SkerryOptions, 'slip'> => ({
  slip: (row) => ({ ...row, ...change(row) }),
});
const late = (s: number) => () => rows((r) => ({ tNs: r.tNs + s * 1e9 }));

const SLIPS: readonly Slip[] = [
  { name: 'GPS stamps read as UTC (18 s)', expected: /fault: GPS and UTC mixed up/, commit: late(18) },
  { name: 'UTC stamps read as GPS (−18 s)', expected: /fault: GPS and UTC mixed up/, commit: late(-18) },
  { name: 'TAI stamps read as UTC (37 s)', expected: /fault: TAI and UTC mixed up/, commit: late(37) },
  { name: 'GPS stamps read as TAI (−19 s)', expected: /fault: TAI and GPS mixed up/, commit: late(-19) },
  {
    name: 'GPS stamps read as UTC, flown as on rails',
    expected: /fault: GPS and UTC mixed up/,
    commit: () => ({ ...late(18)(), swayDeg: 0.001 }),
  },
  { name: 'a clock 80 ms off', expected: /clock of the trajectory off/, commit: late(0.08) },
  {
    name: 'heights of the flight above the sea',
    expected: /fault: heights of the flight look like heights above the sea/,
    commit: ([lon, lat]) => rows((r) => ({ heightM: r.heightM - egm96UndulationM(lon, lat) })),
  },
  {
    name: 'heights of the line above the sea',
    expected: /fault: heights of the line look like heights above the sea/,
    commit: ([lon, lat]) => ({ lineSlip: ([a, b, h]) => [a, b, h - egm96UndulationM(lon, lat)] }),
  },
  {
    name: 'feet read as metres',
    expected: /fault: heights of the flight look like feet/,
    commit: () => rows((r) => ({ heightM: r.heightM / 0.3048 })),
  },
  {
    // What cct of PROJ 9.1.1 makes of 48 N 9 W by EPSG:1133.
    name: 'ED50 read as WGS 84',
    origin: [-9, 48, 57],
    expected: /fault: flight and line look on different datums/,
    commit: () => rows((r) => ({ latDeg: r.latDeg + 0.001073825, lonDeg: r.lonDeg + 0.001479388 })),
  },
  {
    // proj: grid north of EPSG:32625 stands 1.3996 degrees east of north there.
    name: 'grid headings read as true',
    origin: [-31, 44.4, 57],
    expected: /fault: headings look like grid headings/,
    commit: () => rows((r) => ({ headingDeg: (r.headingDeg + 360 - 1.3996) % 360 })),
  },
  {
    name: 'latitude and longitude exchanged',
    expected: /Latitude and longitude are swapped/,
    commit: () => rows((r) => ({ latDeg: r.lonDeg, lonDeg: r.latDeg })),
  },
  {
    name: 'latitude and longitude in radians',
    expected: /look like radians/,
    commit: () => rows((r) => ({ latDeg: r.latDeg * RAD, lonDeg: r.lonDeg * RAD })),
  },
  {
    name: 'attitude in radians',
    expected: /only as radians/,
    commit: () =>
      rows((r) => ({ rollDeg: r.rollDeg * RAD, pitchDeg: r.pitchDeg * RAD, headingDeg: r.headingDeg * RAD })),
  },
  { name: 'rows that stand still for four seconds', expected: /warning: stuck/, commit: () => stuckFrom(20, 24) },
];

function stuckFrom(fromS: number, toS: number): Pick<SkerryOptions, 'slip'> {
  let held: RecordedRow | null = null;
  return {
    slip: (row) => {
      const s = row.tNs * 1e-9 - 60;
      if (s < fromS || s > toS) return row;
      held ??= row;
      return { ...held, tNs: row.tNs };
    },
  };
}

/** Everything that is told of one recording beyond notes; a refusal counts as told. */
async function told(seed: number, slip: Slip | null): Promise<readonly string[]> {
  const random = randomFrom(seed);
  const swayDeg = 0.6 + 0.9 * random.uniform();
  const eventsOfSource = 0.5 * 6 ** random.uniform();
  const drawn = PLACES[Math.floor(PLACES.length * random.uniform())];
  const origin = slip?.origin ?? drawn;
  const folder = await mkdtemp(join(tmpdir(), 'corposant-slips-'));
  try {
    const files = await writeSkerryRecording({
      seed,
      swayDeg,
      eventsOfSource,
      origin,
      folder,
      ...slip?.commit(origin),
    });
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
      { progress: () => {}, note: () => {} },
    );
    return check.findings.filter((f) => f.weight !== 'note').map((f) => `${f.weight}: ${f.name}`);
  } catch (error) {
    if (error instanceof InputError) return [`refused: ${error.message}`];
    throw error;
  } finally {
    await rm(folder, { recursive: true, force: true });
  }
}

const percent = (x: number): string => `${(100 * x).toFixed(1)} %`;

function share(hits: number, of: number): string {
  const [low, high] = wilsonInterval(hits, of);
  return `${hits} of ${of}, ${percent(hits / of)} (${percent(low)} to ${percent(high)})`;
}

/** What was told beside what was expected, with how often. */
function others(findings: readonly (readonly string[])[], expected: RegExp | null): string {
  const counts = new Map<string, number>();
  for (const list of findings)
    for (const text of new Set(list)) if (!expected?.test(text)) counts.set(text, (counts.get(text) ?? 0) + 1);
  return [...counts].map(([text, n]) => `${text} (${n})`).join('; ') || 'nothing';
}

export const study: Study = async ({ seeds = 20, firstSeed = 401, progress }) => {
  const all = Array.from({ length: seeds }, (_, i) => firstSeed + i);
  const sound: (readonly string[])[] = [];
  const slipped = new Map<string, (readonly string[])[]>(SLIPS.map((slip) => [slip.name, []]));
  // Twice as many sound flights: an accusation without cause is the rarer thing, it is to be hoped.
  for (const seed of [...all, ...all.map((s) => s + 100_000)]) {
    if (isTimeUp()) throw new NotYetDone();
    sound.push(await pieceInTurn(`sound-${seed}`, () => told(seed, null)));
  }
  progress(`${sound.length} sound flights`);
  for (const slip of SLIPS) {
    for (const seed of all) {
      if (isTimeUp()) throw new NotYetDone();
      slipped.get(slip.name)?.push(await pieceInTurn(`slip-${SLIPS.indexOf(slip)}-${seed}`, () => told(seed, slip)));
    }
    progress(slip.name);
  }
  const named = (slip: Slip): number =>
    (slipped.get(slip.name) ?? []).filter((list) => list.some((text) => slip.expected.test(text))).length;
  const silent = (slip: Slip): number => (slipped.get(slip.name) ?? []).filter((list) => list.length === 0).length;
  const accused = sound.filter((list) => list.length > 0).length;
  const total = SLIPS.length * seeds;
  const sum = (of: (slip: Slip) => number): number => SLIPS.reduce((n, slip) => n + of(slip), 0);
  return {
    title: 'Slips',
    headline: `${SLIPS.length} slips of clock, height, datum, heading, axes and units, each in ${seeds} flights: told by name in ${share(sum(named), total)}, passed over in silence in ${sum(silent)}; sound flights accused: ${share(accused, sound.length)}.`,
    markdown: `Recordings of 110 s along three towers and back, 30 m off, seeds from ${firstSeed}: sway of 0.6 to 1.5°, six sources of 0.5 to 3 events a frame, at one of four places in the sea where
the geoid lies 13 to 63 m off the ellipsoid. The same flights with each slip committed, through \`corposant check\` with rig and line; a refusal to read counts as told.

| slip | told by its name | told something | passed over | beside its name |
| --- | --- | --- | --- | --- |
${SLIPS.map((slip) => {
  const findings = slipped.get(slip.name) ?? [];
  return `| ${slip.name} | ${share(named(slip), findings.length)} | ${findings.length - silent(slip)} | ${silent(slip)} | ${others(findings, slip.expected)} |`;
}).join('\n')}

Sound flights, twice as many: accused of anything in ${share(accused, sound.length)}; of what: ${others(sound, null)}.`,
  };
};
