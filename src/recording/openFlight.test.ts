import { readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { openFlight } from './openFlight.ts';
import {
  colourCsv,
  FRAMES,
  flightJson,
  frameTimeNs,
  type Loose,
  messageOf,
  trajectoryCsv,
  trajectoryRows,
  uvBytes,
  uvCsv,
  writeSmallFlight,
} from './smallRecording.testdata.ts';

async function refusal(instead: Record<string, string | Uint8Array | null>): Promise<string> {
  const folder = await writeSmallFlight(instead);
  return messageOf(openFlight(folder), folder);
}

function flightWith(change: (flight: Loose) => void): Record<string, string> {
  const flight = flightJson();
  change(flight);
  return { 'flight.json': JSON.stringify(flight) };
}

/** Row `row` (as an editor counts) with cell `cell` changed. */
function withCell(csv: string, row: number, cell: number, value: string): string {
  const lines = csv.split('\n');
  const cells = lines[row - 1].split(',');
  cells[cell] = value;
  lines[row - 1] = cells.join(',');
  return lines.join('\n');
}

test('a sound flight opens with every frame and pose of its files', async () => {
  const flight = await openFlight(await writeSmallFlight());
  expect(flight.uvIndex).toHaveLength(FRAMES);
  expect(flight.uvIndex[4]).toEqual({
    frame: 4,
    tNs: frameTimeNs(4),
    file: 'uv.raw',
    offsetBytes: 4 * 24 * 16,
    exposureNs: 18_000_000,
    gain: 1.5,
  });
  expect(flight.colourIndex).toHaveLength(1);
  expect(flight.trajectory.tNs).toHaveLength(400);
  expect(flight.trajectory.headingDeg[399]).toBe(91.25);
  expect(flight.trajectory.velocityNedMps).toBeNull();
  expect(flight.contentHash).toMatch(/^[0-9a-f]{64}$/);
});

test('the content hash follows the index, the trajectory and the sizes of frame files, and nothing else', async () => {
  const hashOf = async (instead: Record<string, string | Uint8Array>) =>
    (await openFlight(await writeSmallFlight(instead))).contentHash;
  const sound = await hashOf({});
  expect(await hashOf({})).toBe(sound);
  expect(await hashOf({ 'trajectory.csv': withCell(trajectoryCsv(), 9, 3, '212.5001') })).not.toBe(sound);
  expect(await hashOf({ 'uv.csv': withCell(uvCsv(), 3, 4, '1.25') })).not.toBe(sound);
  expect(await hashOf({ 'uv.raw': Uint8Array.of(...uvBytes(), 7) })).not.toBe(sound);
});

test('frames missing from the rhythm are no fault of the files', async () => {
  const lines = uvCsv().split('\n');
  lines.splice(3, 2);
  const flight = await openFlight(await writeSmallFlight({ 'uv.csv': lines.join('\n') }));
  expect(flight.uvIndex).toHaveLength(FRAMES - 2);
});

test('byte order mark, carriage returns, quotes, other columns and another order of columns are read as they are meant', async () => {
  const rows = uvCsv()
    .trim()
    .split('\n')
    .map((line) => {
      const [t, file, offset, exposure, gain] = line.split(',');
      return `"note, ""with"" quotes",${gain},${exposure},${offset},"${file}",${t}`;
    });
  rows[0] = 'note,gain,exposure_ns,offset_bytes,file,t_ns';
  const folder = await writeSmallFlight({ 'uv.csv': `\ufeff${rows.join('\r\n')}\r\n` });
  expect((await openFlight(folder)).uvIndex).toEqual((await openFlight(await writeSmallFlight())).uvIndex);
});

test.each<[fault: string, instead: Record<string, string | Uint8Array | null>, message: string]>([
  [
    'no description',
    { 'flight.json': null },
    'InputError: flight.json: found no such file, expected a readable JSON file. Check the path and the permissions.',
  ],
  [
    'a syntax fault in JSON',
    { 'flight.json': '{\n  "format": "corposant-flight",\n  "version": 1\n  "name": "x"\n}' },
    'InputError: flight.json, row 4, column 3: found "\\"name\\": \\"x\\"", expected JSON. Mend the syntax at that place; a comma or a bracket may be missing just before it.',
  ],
  [
    'an unknown key',
    flightWith((flight) => {
      flight.conditions.wind = 3;
    }),
    'InputError: flight.json, conditions: found {"temperatureC":11,"pressureHPa":1004,"relativeHumidityPct":70,"mainsHz":50,"..., expected Unrecognized key: "wind". Correct the field; docs/formats.md describes the file.',
  ],
  [
    'an unknown encoding',
    flightWith((flight) => {
      flight.streams.uv.encoding = 'bmp';
    }),
    'InputError: flight.json, streams.uv.encoding: found "bmp", expected Invalid option: expected one of "raw"|"png"|"tiff". Correct the field; docs/formats.md describes the file.',
  ],
  [
    'a day that does not exist',
    flightWith((flight) => {
      flight.epoch.utc = '2026-02-30T06:30:00Z';
    }),
    'InputError: flight.json, epoch.utc: found "2026-02-30T06:30:00Z", expected a UTC instant such as 2026-05-12T06:30:00Z. Correct the field; docs/formats.md describes the file.',
  ],
  [
    'an index outside the folder',
    flightWith((flight) => {
      flight.streams.uv.index = '../uv.csv';
    }),
    'InputError: flight.json, streams.uv.index: found ../uv.csv, expected a path inside the folder of the recording. Put the file into the folder and name it relative to it.',
  ],
  [
    'a frame outside the folder',
    { 'uv.csv': withCell(uvCsv(), 3, 1, 'a/../../uv.raw') },
    'InputError: uv.csv, row 3, file: found a/../../uv.raw, expected a path inside the folder of the recording. Put the file into the folder and name it relative to it.',
  ],
  [
    'an absolute path to a frame',
    { 'uv.csv': withCell(uvCsv(), 3, 1, '/etc/hostname') },
    'InputError: uv.csv, row 3, file: found /etc/hostname, expected a path inside the folder of the recording. Put the file into the folder and name it relative to it.',
  ],
  [
    'a missing frame file',
    { 'colour/000.png': null },
    'InputError: colour.csv, row 2, file: found colour/000.png: no such file, expected every frame of the index in the folder. Copy the missing frames, or leave their rows out of the index so that they count as lost.',
  ],
  [
    'a raw file that is cut off',
    { 'uv.raw': uvBytes().subarray(0, 24 * 16 * 5 + 100) },
    'InputError: uv.csv, row 7, file: found uv.raw with 2020 bytes, expected at least 2304 (24 x 16 px of 8 bit from byte 1920). The file is cut off, or size and bit depth of the stream are wrong; copy it again or correct the description.',
  ],
  [
    'a raw stream said to be of twice the depth',
    flightWith((flight) => {
      flight.streams.uv.bitDepth = 16;
    }),
    'InputError: uv.csv, row 3, offset_bytes: found 384 in uv.raw, expected 768 or more, where the frame before ends. Write the index again.',
  ],
  [
    'two rows with one image',
    { 'colour.csv': `${colourCsv()}${frameTimeNs(90)},colour/000.png,2000000\n` },
    'InputError: colour.csv, row 3, file: found colour/000.png a second time, expected a file of its own for each frame. Write the index again.',
  ],
  [
    'a missing column',
    { 'uv.csv': uvCsv().replace('exposure_ns', 'exposure_us') },
    'InputError: uv.csv, row 1, exposure_ns: found no such column (t_ns | file | offset_bytes | exposure_us | gain), expected a comma-separated header with t_ns, file, exposure_ns, gain. Name the columns as docs/formats.md does.',
  ],
  [
    'semicolons for commas',
    { 'uv.csv': uvCsv().replaceAll(',', ';') },
    'InputError: uv.csv, row 1, t_ns: found no such column (t_ns;file;offset_bytes;exposure_ns;gain), expected a comma-separated header with t_ns, file, exposure_ns, gain. Name the columns as docs/formats.md does.',
  ],
  [
    'a column named twice',
    { 'uv.csv': uvCsv().replace('gain', 'gain,gain') },
    'InputError: uv.csv, row 1, gain: found the column twice, expected a comma-separated header with t_ns, file, exposure_ns, gain. Name the columns as docs/formats.md does.',
  ],
  [
    'an index cut off within a row',
    { 'uv.csv': uvCsv().trim().slice(0, -18) },
    'InputError: uv.csv, row 7: found 2 cells, expected 5 as in the header. The file may be cut off here, or numbers were written with a decimal comma; write the table again.',
  ],
  [
    'an empty line among rows',
    { 'uv.csv': uvCsv().replace('\n1060000000', '\n\n1060000000') },
    'InputError: uv.csv, row 5: found an empty line among the rows, expected one row a line. Remove the empty line, and check that no row was lost there.',
  ],
  [
    'an unclosed quote',
    { 'uv.csv': withCell(uvCsv(), 5, 1, '"uv.raw') },
    'InputError: uv.csv, row 5: found a quote that is never closed, expected quotes in pairs. Close the quote, or remove it.',
  ],
  [
    'an index of no frames',
    { 'uv.csv': 't_ns,file,exposure_ns,gain\n' },
    'InputError: uv.csv: found a header and no rows, expected one row a frame. Check that the recorder was recording.',
  ],
  [
    'an index of nothing at all',
    { 'uv.csv': '' },
    'InputError: uv.csv: found an empty file, expected a header row with t_ns, file, exposure_ns, gain. Write the table again.',
  ],
  [
    'an index that is no text',
    { 'uv.csv': Uint8Array.of(0x74, 0x5f, 0xff, 0xfe, 0x0a) },
    'InputError: uv.csv: found bytes that are not UTF-8, expected a table in UTF-8. Save the table in UTF-8.',
  ],
  [
    'a frame time that goes back',
    { 'uv.csv': withCell(uvCsv(), 5, 0, '1030000000') },
    'InputError: uv.csv, row 5, t_ns: found 1030000000 after 1040000000, expected times strictly rising. Sort the rows by time and find out why the recorder gave them so; a clock may have been reset.',
  ],
  [
    'a frame time that repeats',
    { 'uv.csv': withCell(uvCsv(), 5, 0, '1040000000') },
    'InputError: uv.csv, row 5, t_ns: found 1040000000, the same as in the row before, expected times strictly rising. Sort the rows by time and find out why the recorder gave them so; a clock may have been reset.',
  ],
  [
    'microseconds for nanoseconds',
    { 'uv.csv': uvCsv().replaceAll(/^(\d+)000,/gm, '$1,') },
    'InputError: uv.csv, t_ns: found frames 20000 apart (median), which looks like microseconds, expected about 20000000 ns at 50 Hz. Write the times in nanoseconds.',
  ],
  [
    'seconds for nanoseconds',
    { 'uv.csv': withCell(uvCsv(), 3, 0, '1.02') },
    'InputError: uv.csv, row 3, t_ns: found 1.02, expected integer nanoseconds since the epoch. Seconds, milliseconds and microseconds have to be converted first.',
  ],
  [
    'a frame rate far below the true one',
    flightWith((flight) => {
      flight.streams.uv.frameRateHz = 18;
    }),
    'InputError: uv.csv, t_ns: found frames 20000000 apart (median), expected about 55555556 ns at 18 Hz. Correct streams.uv.frameRateHz in flight.json, or the times.',
  ],
  [
    'an exposure longer than the frame period',
    { 'uv.csv': withCell(uvCsv(), 4, 3, '21500000') },
    'InputError: uv.csv, row 4, exposure_ns: found 21500000, expected at most the frame period, 20000000 ns at 50 Hz. Check the unit, and streams.uv.frameRateHz in flight.json.',
  ],
  [
    'an exposure of nothing',
    { 'uv.csv': withCell(uvCsv(), 4, 3, '0') },
    'InputError: uv.csv, row 4, exposure_ns: found 0, expected a whole number of nanoseconds above 0. Check the unit and the column.',
  ],
  [
    'a gain that is no number',
    { 'uv.csv': withCell(uvCsv(), 4, 4, 'NaN') },
    'InputError: uv.csv, row 4, gain: found NaN, expected a number. Leave rows without a measurement out of the table.',
  ],
  [
    'an empty cell in the trajectory',
    { 'trajectory.csv': withCell(trajectoryCsv(), 12, 5, '') },
    'InputError: trajectory.csv, row 12, pitch_deg: found an empty cell, expected a number from -90 to 90. Leave rows without a measurement out of the table.',
  ],
  [
    'NaN in the trajectory',
    { 'trajectory.csv': withCell(trajectoryCsv(), 12, 1, 'nan') },
    'InputError: trajectory.csv, row 12, lat_deg: found nan, expected a number from -90 to 90. Leave rows without a measurement out of the table.',
  ],
  [
    'latitude and longitude changed over beyond the pole',
    { 'trajectory.csv': withCell(trajectoryCsv(), 12, 1, '-93.9') },
    'InputError: trajectory.csv, row 12, lat_deg: found -93.9, expected a number from -90 to 90. Check the unit and the column.',
  ],
  [
    'a heading of a whole turn',
    { 'trajectory.csv': withCell(trajectoryCsv(), 12, 6, '360') },
    'InputError: trajectory.csv, row 12, heading_deg: found 360, expected true heading, 0 <= heading < 360. Export headings wrapped to one turn.',
  ],
  [
    'a trajectory time that repeats',
    { 'trajectory.csv': withCell(trajectoryCsv(), 12, 0, '450000000') },
    'InputError: trajectory.csv, row 12, t_ns: found 450000000, the same as in the row before, expected times strictly rising. Sort the rows by time and find out why the recorder gave them so; a clock may have been reset.',
  ],
  [
    'a trajectory that begins too late',
    { 'trajectory.csv': trajectoryCsv(trajectoryRows().slice(22)) },
    'InputError: trajectory.csv, t_ns: found 1100000000 to 19950000000, expected times that cover all frames of uv.csv, 1000000000 to 1100000000 (5 of 6 frames lie outside). Export the trajectory of the whole flight, on the same epoch as the frames.',
  ],
  [
    'a trajectory in microseconds',
    { 'trajectory.csv': trajectoryCsv(trajectoryRows().map((row) => row.replace(/^(\d+)000,/, '$1,'))) },
    'InputError: trajectory.csv, t_ns: found 0 to 19950000, which looks like microseconds, expected times that cover all frames of uv.csv, 1000000000 to 1100000000 (6 of 6 frames lie outside). Write the times in nanoseconds.',
  ],
  [
    'a trajectory of one pose',
    { 'trajectory.csv': trajectoryCsv(trajectoryRows().slice(0, 1)) },
    'InputError: trajectory.csv: found 1 rows, expected at least two poses. Export the trajectory of the whole flight.',
  ],
  [
    'two of three velocities',
    {
      'trajectory.csv': trajectoryCsv(trajectoryRows().map((row) => `${row},1,2`)).replace(
        'heading_deg',
        'heading_deg,v_north_mps,v_east_mps',
      ),
    },
    'InputError: trajectory.csv, row 1, v_down_mps: found no such column beside v_north_mps, v_east_mps, expected all of v_north_mps, v_east_mps, v_down_mps, or none. Export the missing columns, or leave the others out.',
  ],
])('refused, and told where and how to mend it: %s', async (_, instead, message) => {
  expect(await refusal(instead)).toBe(message);
});

const inRadians = (columns: readonly number[]) =>
  trajectoryCsv(
    trajectoryRows().map((row) =>
      row
        .split(',')
        .map((cell, i) => (columns.includes(i) ? String((Number(cell) * Math.PI) / 180) : cell))
        .join(','),
    ),
  );

test('positions in radians are refused', async () => {
  expect(await refusal({ 'trajectory.csv': inRadians([1, 2]) })).toMatch(
    /^InputError: trajectory.csv, lat_deg, lon_deg: found values up to 0\.9983\d+ and 0\.068\d+, which look like radians, expected degrees\. Multiply/,
  );
});

test('attitude in radians is refused, once round a corner and on a straight course', async () => {
  const says =
    /^InputError: trajectory.csv, heading_deg, roll_deg, pitch_deg: found headings up to 1\.59\d+, which follow the course over ground only as radians, expected degrees/;
  expect(await refusal({ 'trajectory.csv': inRadians([4, 5, 6]) })).toMatch(says);
  const lines = inRadians([4, 5, 6]).split('\n');
  const eastOnly = [lines[0], ...lines.slice(202)].join('\n');
  const folder = await writeSmallFlight({
    'trajectory.csv': eastOnly,
    'uv.csv': uvCsv().replaceAll(/^1(\d{9}),/gm, '11$1,'),
  });
  expect(await messageOf(openFlight(folder), folder)).toMatch(says);
});

test('a calm flight due north, which keeps all its angles below two degrees, is not taken for radians', async () => {
  const calm = trajectoryRows()
    .slice(0, 200)
    .map((row) => [...row.split(',').slice(0, 4), '0.5', '-1.2', '1.75'].join(','));
  const flight = await openFlight(await writeSmallFlight({ 'trajectory.csv': trajectoryCsv(calm) }));
  expect(flight.trajectory.headingDeg[7]).toBe(1.75);
});

test('all optional columns of a trajectory come back in their places', async () => {
  const header =
    'sd_heading_deg,sd_pitch_deg,sd_roll_deg,sd_down_m,sd_east_m,sd_north_m,v_down_mps,v_east_mps,v_north_mps';
  const rows = trajectoryRows().map((row) => `0.06,0.05,0.04,0.03,0.02,0.01,-0.7,0.8,5.9,${row}`);
  const text = trajectoryCsv(rows).replace('t_ns', `${header},t_ns`);
  const { trajectory } = await openFlight(await writeSmallFlight({ 'trajectory.csv': text }));
  const { sigma, velocityNedMps } = trajectory;
  expect([velocityNedMps?.north[3], velocityNedMps?.east[3], velocityNedMps?.down[3]]).toEqual([5.9, 0.8, -0.7]);
  expect([sigma?.northM[3], sigma?.eastM[3], sigma?.downM[3]]).toEqual([0.01, 0.02, 0.03]);
  expect([sigma?.rollDeg[3], sigma?.pitchDeg[3], sigma?.headingDeg[3]]).toEqual([0.04, 0.05, 0.06]);
  expect(trajectory.latDeg[0]).toBe(57.2);
});

test('a table longer than one block of reading keeps every row', async () => {
  const rows = Array.from(
    { length: 60_000 },
    (_, i) => `${i * 5_000_000},57.${String(i).padStart(9, '0')},-3.9,200,1,9,270`,
  );
  const folder = await writeSmallFlight({ 'trajectory.csv': trajectoryCsv(rows) });
  expect((await readFile(join(folder, 'trajectory.csv'))).length).toBeGreaterThan(2 << 20);
  const { trajectory } = await openFlight(folder);
  expect(trajectory.tNs).toHaveLength(60_000);
  for (let i = 0; i < 60_000; i++) {
    if (trajectory.latDeg[i] !== Number(`57.${String(i).padStart(9, '0')}`)) throw new Error(`row ${i} is wrong`);
  }
  await writeFile(join(folder, 'trajectory.csv'), trajectoryCsv(rows).trimEnd());
  expect((await openFlight(folder)).trajectory.tNs[59_999]).toBe(59_999 * 5_000_000);
});
