import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, onTestFinished, test } from 'vitest';
import { InputError } from '../../input/InputError.ts';
import type { Epoch } from '../../time/Epoch.ts';
import { degreesIn } from './angleText.ts';
import { secondsParts } from './decimalParts.ts';
import { readMappedTrajectory } from './readMappedTrajectory.ts';

const EPOCH: Epoch = { utc: '2024-01-01T00:00:00Z', scale: 'UTC' };

async function folderOf(files: Record<string, string>): Promise<string> {
  const folder = await mkdtemp(join(tmpdir(), 'corposant-mapped-'));
  onTestFinished(() => rm(folder, { recursive: true, force: true }));
  for (const [name, text] of Object.entries(files)) await writeFile(join(folder, name), text);
  return folder;
}

const ANGLES = {
  form: 'angles',
  roll: 'roll',
  pitch: 'pitch',
  heading: 'yaw',
  unit: 'deg',
  rollPositive: 'right wing down',
  pitchPositive: 'nose up',
  headingTurns: 'clockwise from north',
  north: 'true',
};
const PLAIN = {
  format: 'corposant-trajectory-mapping',
  version: 1,
  source: 'table',
  separator: 'comma',
  headerLine: 1,
  time: { form: 'number', column: 't', unit: 's', since: 'epoch', scale: 'UTC' },
  position: {
    form: 'geographic',
    latitude: 'lat',
    longitude: 'lon',
    unit: 'deg',
    datum: 'WGS 84',
    height: { column: 'h', unit: 'm', above: 'ellipsoid' },
  },
  attitude: ANGLES,
};

async function read(text: string, mapping: object, more: Record<string, string> = {}, epoch = EPOCH) {
  const folder = await folderOf({ 'track.txt': text, 'mapping.json': JSON.stringify(mapping), ...more });
  return (await readMappedTrajectory(join(folder, 'track.txt'), join(folder, 'mapping.json'), epoch)).table;
}

async function faultOf(text: string, mapping: object) {
  const error = await read(text, mapping).catch((e: unknown) => e);
  expect(error).toBeInstanceOf(InputError);
  return (error as InputError).fault;
}

/** Two rows with the given time cells, everything else plain. */
const timed = (cells: readonly string[], names = 't') =>
  [`${names},lat,lon,h,roll,pitch,yaw`, ...cells.map((t, i) => `${t},44.${i}1,-31.9,60,1,2,${30 + i}`)].join('\n');

// One instant on every clock. Source: astropy 5.2.1.
test.each([
  ['GPS week and seconds', { form: 'gps week', week: 'w', seconds: 's' }, ['2295,86418.5', '2295,86419.5'], 'w,s'],
  [
    'a week that is not written down',
    { form: 'gps week', week: 2295, seconds: 's', unit: 'ms' },
    ['86418500', '86419500'],
    's',
  ],
  [
    'seconds since 1970',
    { form: 'number', column: 's', unit: 's', since: '1970-01-01T00:00:00Z', scale: 'UTC' },
    ['1704067200.5', '1704067201.5'],
    's',
  ],
  [
    'a PTP clock',
    { form: 'number', column: 's', unit: 'ns', since: '1970-01-01T00:00:00', scale: 'TAI' },
    ['1704067237500000000', '1704067238500000000'],
    's',
  ],
  [
    'GPS seconds',
    { form: 'number', column: 's', unit: 's', since: '1980-01-06T00:00:00', scale: 'GPS' },
    ['1388102418.5', '1388102419.5'],
    's',
  ],
  [
    'ISO 8601',
    { form: 'ISO 8601', column: 's', scale: 'UTC' },
    ['2024-01-01T00:00:00.5Z', '2024-01-01 00:00:01.5'],
    's',
  ],
  [
    'ISO 8601 on a GPS clock',
    { form: 'ISO 8601', column: 's', scale: 'GPS' },
    ['2024-01-01T00:00:18.5', '2024-01-01T00:00:19.5'],
    's',
  ],
  [
    'day and time',
    { form: 'date and time', date: 'd', time: 's', order: 'day month year', scale: 'UTC' },
    ['01.01.2024,00:00:00.5', '01.01.2024,00:00:01.5'],
    'd,s',
  ],
  [
    'seconds of the day',
    { form: 'seconds of day', column: 's', day: '2024-01-01', scale: 'TAI' },
    ['37.5', '38.5'],
    's',
  ],
  [
    "UTC made with last decade's leap seconds",
    { form: 'ISO 8601', column: 's', scale: 'UTC', gpsMinusUtcS: 16 },
    ['2024-01-01T00:00:02.5Z', '2024-01-01T00:00:03.5Z'],
    's',
  ],
] as const)('half past midnight and a second is half a second after the epoch: %s', async (_, time, cells, names) => {
  const { tNs } = await read(timed(cells, names), { ...PLAIN, time });
  expect([...tNs]).toEqual([5e8, 1.5e9]);
});

test('a program that took the wrong leap seconds is named', async () => {
  const time = { form: 'ISO 8601', column: 's', scale: 'UTC', gpsMinusUtcS: 17 };
  const { notes } = await read(timed(['2024-01-01T00:00:00Z', '2024-01-01T00:00:01Z'], 's'), { ...PLAIN, time });
  expect(notes?.join()).toMatch(/made from GPS time with 17 s, where 18 s are right: mended by -1 s/);
});

test('seconds of the week go on over midnight of Saturday', async () => {
  const time = { form: 'gps week', week: 2294, seconds: 's' };
  const { tNs } = await read(timed(['604799', '0.25'], 's'), { ...PLAIN, time });
  expect(tNs[1] - tNs[0]).toBe(1.25e9);
});

test('a week that has rolled over is refused, as 1024 weeks would be lost', async () => {
  const time = { form: 'gps week', week: 'w', seconds: 's' };
  const fault = await faultOf(timed(['247,86418', '247,86419'], 'w,s'), { ...PLAIN, time });
  expect(fault).toMatchObject({ row: 2, field: 'week', found: '"247"' });
});

test('nineteen digits of nanoseconds are read to the last one', () => {
  expect(secondsParts('1704067200123456789', 'ns')).toEqual({ s: 1704067200, ns: 123456789 });
  expect(secondsParts('-0.25', 's')).toEqual({ s: -1, ns: 75e7 });
  expect(secondsParts('1.5e3', 'ms')).toEqual({ s: 1, ns: 5e8 });
  expect(secondsParts('12,5', 's')).toBeNull();
});

test('angles as surveyors write them', () => {
  // Flinders Peak, as printed in the Australian geodetic manual (from memory).
  expect(degreesIn('-37°57\'03.72030"', 'dms')).toBeCloseTo(-(37 + 57 / 60 + 3.7203 / 3600), 12);
  expect(degreesIn('144 25 29.52440 E', 'dms')).toBeCloseTo(144.42486789, 8);
  expect(degreesIn('12606.12767097W', 'ddmm')).toBeCloseTo(-(126 + 6.12767097 / 60), 12);
  expect(degreesIn('12.5S', 'deg')).toBe(-12.5);
  expect(degreesIn('-12.5S', 'deg')).toBeNaN(); // twice south, or north?
  expect(degreesIn('10 61 00', 'dms')).toBeNaN();
});

test('radians, feet, heights above the geoid, knots and turned signs come out as degrees, metres, ellipsoid, m/s', async () => {
  const text = [
    '% of an export with units below the names',
    'TIME\tLAT\tLON\tALT\tROLL\tPITCH\tYAW\tVN\tVE\tVU',
    '(s)\t(rad)\t(rad)\t(ft)\t(rad)\t(rad)\t(rad)\t(kn)\t(kn)\t(kn)',
    '% nothing here',
    // -14.6212170, 305.0211140: a test point of NGA, EGM96 there is -2.969 m.
    ...[0, 1].map((t) =>
      [t, -14.621217, -54.978886]
        .map((x, i) => (i ? (x * Math.PI) / 180 : x))
        .concat([1000 / 0.3048, 0.1, -0.2, 0.3, 10, -20, 5])
        .join('\t'),
    ),
  ].join('\r\n');
  const table = await read(text, {
    ...PLAIN,
    separator: 'tab',
    comments: ['%'],
    headerLine: 2,
    firstLine: 4,
    time: { ...PLAIN.time, column: 'TIME' },
    position: {
      form: 'geographic',
      latitude: 'LAT',
      longitude: 'LON',
      unit: 'rad',
      datum: 'ETRS89',
      height: { column: 'ALT', unit: 'ft', above: 'EGM96' },
    },
    attitude: {
      ...ANGLES,
      roll: 'ROLL',
      pitch: 'PITCH',
      heading: 'YAW',
      unit: 'rad',
      rollPositive: 'left wing down',
      pitchPositive: 'nose down',
      headingTurns: 'anticlockwise from east',
    },
    velocity: { north: 'VN', east: 'VE', vertical: 'VU', verticalPositive: 'up', unit: 'kn' },
  });
  expect(table.latDeg[0]).toBeCloseTo(-14.621217, 10);
  expect(table.lonDeg[1]).toBeCloseTo(-54.978886, 10);
  expect(Math.abs(table.heightM[0] - (1000 - 2.969))).toBeLessThan(0.06); // bilinear against NGA's spline
  expect([table.rollDeg[0], table.pitchDeg[0]]).toEqual([
    expect.closeTo(-0.1 * 57.29578, 5),
    expect.closeTo(0.2 * 57.29578, 5),
  ]);
  expect(table.headingDeg[0]).toBeCloseTo(90 - 0.3 * 57.29578, 4);
  expect(table.velocityNedMps?.east[0]).toBeCloseTo((-20 * 1852) / 3600, 9);
  expect(table.velocityNedMps?.down[0]).toBeCloseTo((-5 * 1852) / 3600, 9);
  expect(table.notes?.join(' ')).toMatch(/ETRS89 is taken equal.*EGM96/);
});

test('eastings and northings in a system, with headings of its grid', async () => {
  // PROJ 9.1.1: 5 E, 52 N in EPSG:32631 is 637294.365894, 5762926.812914 (cs2cs); grid north stands 1.576266 degrees east of north.
  const text =
    'n;e;h;t;roll;pitch;yaw\n5762926,812914;637294,365894;10,5;1;0;0;100\n5762927,812914;637294,365894;10,5;2;0;0;359\n';
  const table = await read(text, {
    ...PLAIN,
    separator: 'semicolon',
    decimalMark: ',',
    position: {
      form: 'projected',
      easting: 'e',
      northing: 'n',
      unit: 'm',
      system: 'EPSG:32631',
      height: { column: 'h', unit: 'm', above: 'ellipsoid' },
    },
    attitude: { ...ANGLES, north: { grid: 'EPSG:32631' } },
  });
  expect(Math.abs(table.latDeg[0] - 52)).toBeLessThan(1e-8); // 1 mm
  expect(Math.abs(table.lonDeg[0] - 5)).toBeLessThan(1e-8);
  expect(table.headingDeg[0]).toBeCloseTo(101.576266, 4);
  expect(table.headingDeg[1]).toBeCloseTo(0.576266, 4);
});

test('quaternions of either convention give the attitude that SciPy gives', async () => {
  // Roll 10, pitch -5, heading 120 degrees: north-east-down from forward-right-down, scalar first (SciPy 1.10).
  const ned = [0.4943309192, 0.0811681453, 0.0536805467, 0.863809628];
  const text = (q: readonly number[]) =>
    ['t,lat,lon,h,w,x,y,z', ...[0, 1].map((t) => [t, 44.1, -31.9, 60, ...q].join())].join('\n');
  const by = (q: readonly number[], turns: string) =>
    read(text(q), { ...PLAIN, attitude: { form: 'quaternion', w: 'w', x: 'x', y: 'y', z: 'z', turns } });
  const a = await by(ned, 'north-east-down from forward-right-down');
  expect([a.rollDeg[0], a.pitchDeg[0], a.headingDeg[0]]).toEqual([10, -5, 120].map((x) => expect.closeTo(x, 6)));
  // A level body that heads east is not turned at all in east-north-up from forward-left-up.
  const b = await by([1, 0, 0, 0], 'east-north-up from forward-left-up');
  expect([b.rollDeg[0], b.pitchDeg[0], b.headingDeg[0]]).toEqual([0, 0, 90].map((x) => expect.closeTo(x, 9)));
});

test("the receiver's word on each solution gives standard deviations, leaves rows out and is kept", async () => {
  const rows = ['R', 'R', 'F', 'N', 'R'].map((q, t) => `${t},44.1${t},-31.9,60,1,2,30,${q}`);
  const mapping = {
    ...PLAIN,
    sigma: { form: 'stated', northM: 9, eastM: 9, downM: 9, rollDeg: 0.01, pitchDeg: 0.02, headingDeg: 0.05 },
    fix: {
      column: 'q',
      kinds: {
        R: { name: 'fixed', levelSigmaM: 0.02, uprightSigmaM: 0.04 },
        F: { name: 'float', levelSigmaM: 0.4, uprightSigmaM: 0.8 },
        N: { name: 'none', leaveOut: true },
      },
    },
  };
  const table = await read(['t,lat,lon,h,roll,pitch,yaw,q', ...rows].join('\n'), mapping);
  expect(table.fix).toEqual(['fixed', 'fixed', 'float', 'fixed']);
  expect([...(table.sigma?.downM ?? [])]).toEqual([0.04, 0.04, 0.8, 0.04]);
  expect(table.sigma?.headingDeg[0]).toBe(0.05);
  expect(table.notes).toEqual(['1 rows with the fix "none" were left out, as the mapping says.']);
  const fault = await faultOf(
    ['t,lat,lon,h,roll,pitch,yaw,q', ...rows, '9,44.2,-31.9,60,1,2,30,X'].join('\n'),
    mapping,
  );
  expect(fault).toMatchObject({
    row: 7,
    field: 'q',
    found: '"X"',
    expected: 'one of "R", "F", "N", as the mapping lists',
  });
});

test('positions are joined with the attitude of another file, denser rows leading', async () => {
  const positions = ['t lat lon h', ...[0, 1, 2, 3].map((t) => `${t} ${44 + t * 1e-4} -31.9 60`)].join('\n');
  // 10 a second, from 0.5 s: heading turns 10 degrees a second through north.
  const attitude = [
    't,roll,pitch,yaw',
    ...Array.from({ length: 21 }, (_, i) => `${0.5 + i / 10},1,-2,${(355 + i) % 360}`),
  ].join('\n');
  const mapping = {
    ...PLAIN,
    separator: 'blanks',
    attitude: {
      from: 'file',
      file: 'imu.csv',
      table: { separator: 'comma', headerLine: 1, time: PLAIN.time, attitude: ANGLES },
      sigma: { rollDeg: 0.01, pitchDeg: 0.01, headingDeg: 0.03 },
    },
    sigma: { form: 'stated', northM: 0.02, eastM: 0.02, downM: 0.03, rollDeg: 1, pitchDeg: 1, headingDeg: 1 },
  };
  const table = await read(positions, mapping, { 'imu.csv': attitude });
  expect(table.tNs.length).toBe(21);
  const row = table.tNs.indexOf(1e9);
  expect(table.latDeg[row]).toBeCloseTo(44.0001, 9);
  expect(table.headingDeg[row]).toBeCloseTo(0, 6);
  // Straight and even flight: between positions it is met by the cubic, and doubted by an eighth of 1 m/s2 over 1 s.
  expect(table.latDeg[0]).toBeCloseTo(44.00005, 9);
  expect(table.sigma?.northM[0]).toBeCloseTo(Math.hypot(0.02, 0.125), 6);
  expect(table.sigma?.headingDeg[0]).toBe(0.03);
});

test.each([
  [
    'a column that is not there',
    { ...PLAIN, position: { ...PLAIN.position, latitude: 'Lat' } },
    { row: 1, field: 'position.latitude', expected: '"Lat"; there is "lat"' },
  ],
  ['a separator that is another', { ...PLAIN, separator: 'semicolon' }, { row: 1, field: 'time.column' }],
  [
    'degrees given as packed minutes',
    { ...PLAIN, position: { ...PLAIN.position, unit: 'ddmm' } },
    { row: 2, field: 'lat', found: '"44.01"' },
  ],
] as const)('%s is told by file, row and field', async (_, mapping, expected) => {
  expect(await faultOf(timed(['0', '1']), mapping)).toMatchObject(expected);
});

test('a line cut off is told by its row', async () => {
  const fault = await faultOf(`${timed(['0', '1'])}\n2,44.5,-31`, PLAIN);
  expect(fault).toMatchObject({ row: 4, found: '3 cells', expected: '7, as there are names' });
});
