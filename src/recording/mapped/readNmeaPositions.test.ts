import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, onTestFinished, test } from 'vitest';
import type { InputError } from '../../input/InputError.ts';
import type { Epoch } from '../../time/Epoch.ts';
import { nmeaSentence } from './nmeaSentence.ts';
import { readMappedTrajectory } from './readMappedTrajectory.ts';

const MAPPING = {
  format: 'corposant-trajectory-mapping',
  version: 1,
  source: 'NMEA 0183',
  separation: 'as given',
  attitude: { from: 'course', rollPitchSigmaDeg: 5, headingSigmaDeg: 10 },
};

async function read(lines: readonly string[], epoch: Epoch, mapping: object = MAPPING) {
  const folder = await mkdtemp(join(tmpdir(), 'corposant-nmea-'));
  onTestFinished(() => rm(folder, { recursive: true, force: true }));
  await writeFile(join(folder, 'log.nmea'), lines.join('\r\n'));
  await writeFile(join(folder, 'm.json'), JSON.stringify(mapping));
  return (await readMappedTrajectory(join(folder, 'log.nmea'), join(folder, 'm.json'), epoch)).table;
}

/** As receivers make it: the exclusive or of what stands between the marks. */
const sealed = (body: string): string =>
  `$${body}*${[...body]
    .reduce((x, c) => x ^ c.charCodeAt(0), 0)
    .toString(16)
    .toUpperCase()
    .padStart(2, '0')}`;

// Sentences as they stand in published logs and manuals, checksums and all.
test.each([
  ['$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47', 'GGA'],
  ['$GPRMC,195959.00,A,1813.38282955,N,12606.12767097,E,1.31,262.13,160919,3.0,W,D*21', 'RMC'],
  ['0000338 $GPGST,195959.00,0.30,0.35,0.20,292.62,0.23,0.33,0.71*62', 'GST'],
  ['$GPZDA,200000.00,14,01,2020,00,00*60', 'ZDA'],
])('the checksum of %s is right', (line, kind) => {
  expect(nmeaSentence(line)).toMatchObject({ kind: 'sentence', sentence: { talker: 'GP', kind } });
});

test('a sentence with one bit turned, cut off, or without a checksum is told apart', () => {
  const line = '$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47';
  expect(nmeaSentence(line.replace('4807', '4806'))).toEqual({ kind: 'broken', because: 'checksum wrong' });
  expect(nmeaSentence(line.slice(0, -1))).toEqual({ kind: 'broken', because: 'cut off' });
  expect(nmeaSentence(line.slice(0, 40))).toEqual({ kind: 'broken', because: 'checksum missing' });
  expect(nmeaSentence('# begun at noon')).toEqual({ kind: 'no sentence' });
});

test('a published log gives positions above the ellipsoid with their deviations, and the day from RMC', async () => {
  const table = await read(
    [
      '$GPGGA,195959.00,1813.38282955,N,12606.12767097,E,2,07,1.4,17.2,M,36.5,M,4.0,0129*78',
      '$GPRMC,195959.00,A,1813.38282955,N,12606.12767097,E,1.31,262.13,160919,3.0,W,D*21',
      '$GPGST,195959.00,0.30,0.35,0.20,292.62,0.23,0.33,0.71*62',
      '$GPHDT,227.45,T*03',
      '$GPGGA,200000.00,1813.38274046,N,12606.12733500,E,2,07,1.4,17.3,M,36.5,M,5.0,0129*7A',
      '$GPGST,200000.00,0.30,0.35,0.20,292.62,0.23,0.33,0.71*68',
      '$GPGGA,200001.00,1813.38252394,N,12606.12706032,E,2,07,1.4,17.3,M,36.5,M,6.0,0129*73', // last digit altered
    ],
    { utc: '2019-09-16T19:59:00Z', scale: 'UTC' },
  );
  expect([...table.tNs]).toEqual([59e9, 60e9]);
  expect(table.latDeg[0]).toBeCloseTo(18 + 13.38282955 / 60, 12);
  expect(table.lonDeg[1]).toBeCloseTo(126 + 6.127335 / 60, 12);
  expect(table.heightM[0]).toBeCloseTo(53.7, 9);
  expect([table.sigma?.northM[0], table.sigma?.eastM[0], table.sigma?.downM[0]]).toEqual([0.23, 0.33, 0.71]);
  expect(table.fix).toEqual(['differential', 'differential']);
  expect(table.notes?.join(' ')).toMatch(
    /1 sentences were left out: checksum wrong.*No attitude was recorded.*places of discharges need an attitude/,
  );
});

test("midnight passes between two sentences, and GPS stamps are 18 s ahead of the receiver's UTC", async () => {
  const lines = [
    sealed('GNGGA,235959.50,4424.0,N,03154.0,W,4,12,0.7,10.0,M,50.0,M,,'),
    sealed('GNZDA,235959.50,11,05,2026,00,00'),
    sealed('GNGGA,000000.50,4424.1,N,03153.9,W,5,12,0.7,10.0,M,50.0,M,,'),
    sealed('GNGGA,000001.50,4424.2,N,03154.0,W,0,00,,,M,,M,,'),
  ];
  const fix = { 4: { levelSigmaM: 0.02, uprightSigmaM: 0.03 }, 5: { levelSigmaM: 0.5, uprightSigmaM: 0.9 } };
  const table = await read(lines, { utc: '2026-05-12T00:00:00Z', scale: 'GPS' }, { ...MAPPING, fix });
  expect([...table.tNs]).toEqual([-5e8, 5e8]);
  // A tenth of a minute north and east: the radii of curvature of WGS 84 there make it 35.64 degrees.
  expect(table.headingDeg[0]).toBeCloseTo(35.64, 1);
  expect(table.fix).toEqual(['fixed', 'float']);
  expect([...(table.sigma?.downM ?? [])]).toEqual([0.03, 0.9]);
  expect(table.notes?.join(' ')).toContain('1 positions were left out without a fix.');
});

test('positions whose accuracy nothing tells are not given one', async () => {
  const lines = [
    sealed('GPGGA,120000,4424.0,N,03154.0,W,4,12,0.7,10.0,M,50.0,M,,'),
    sealed('GPZDA,120001,12,05,2026,00,00'),
  ];
  const error = await read(lines, { utc: '2026-05-12T00:00:00Z', scale: 'UTC' }).catch((e: unknown) => e);
  expect((error as InputError).fault).toMatchObject({ row: 1, field: 'GST' });
});
