import { readdir, readFile, truncate, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import {
  openPhotonEventWriter,
  type PhotonEventColumns,
  photonEventGroups,
  readPhotonEvents,
  writePhotonEvents,
} from './photonEventTable.ts';
import { messageOf, temporaryFolder } from './smallRecording.testdata.ts';
import { writeFileAtomically } from './writeFileAtomically.ts';

/** Events of awkward values: times at the edge of 2^53, fractions with all bits set, every flag. */
function eventsOf(count: number): PhotonEventColumns {
  const row = Array.from({ length: count }, (_, i) => i);
  return {
    count,
    frame: Int32Array.from(row, (i) => (i === 3 ? 2 ** 31 - 1 : i >> 3)),
    tNs: Float64Array.from(row, (i) => (i === 5 ? Number.MAX_SAFE_INTEGER : i * 2_500_000 - 1)),
    xPx: Float64Array.from(row, (i) => (i % 1280) + 1 / 3),
    yPx: Float64Array.from(row, (i) => -0.4999 + (i % 1024) / 7),
    charge: Float32Array.from(row, (i) => 1e-3 * i * i),
    sigmaPx: Float32Array.from(row, (i) => 0.1 + (i % 13) / 11),
    flags: Uint8Array.from(row, (i) => i % 128),
  };
}

const rowsOf = (events: PhotonEventColumns, from: number, to: number): PhotonEventColumns => ({
  count: to - from,
  frame: events.frame.subarray(from, to),
  tNs: events.tNs.subarray(from, to),
  xPx: events.xPx.subarray(from, to),
  yPx: events.yPx.subarray(from, to),
  charge: events.charge.subarray(from, to),
  sigmaPx: events.sigmaPx.subarray(from, to),
  flags: events.flags.subarray(from, to),
});

const KEYS = ['frame', 'tNs', 'xPx', 'yPx', 'charge', 'sigmaPx', 'flags'] as const;
const bytesOf = (column: { buffer: ArrayBufferLike; byteOffset: number; byteLength: number }) =>
  Buffer.from(column.buffer, column.byteOffset, column.byteLength);

test.each([0, 1, 7, 70_001])('%i photon events come back bit by bit', async (count) => {
  const file = join(await temporaryFolder(), 'photons.parquet');
  const events = eventsOf(count);
  await writePhotonEvents(file, events);
  const seen = await readPhotonEvents(file);
  expect(seen.count).toBe(count);
  for (const key of KEYS) expect(bytesOf(seen[key]).equals(bytesOf(events[key])), key).toBe(true);
});

test('the bytes of the table depend on the events alone, not on the portions they came in', async () => {
  const folder = await temporaryFolder();
  const events = eventsOf(70_001);
  await writePhotonEvents(join(folder, 'whole.parquet'), events);
  const writer = openPhotonEventWriter(join(folder, 'portions.parquet'));
  for (let from = 0, step = 1; from < events.count; from += step, step = (step * 7 + 3) % 50_000) {
    writer.append(rowsOf(events, from, Math.min(events.count, from + step)));
  }
  await writer.finish();
  expect((await readFile(join(folder, 'portions.parquet'))).equals(await readFile(join(folder, 'whole.parquet')))).toBe(
    true,
  );
});

test('a table is read group by group, and the groups together are the table', async () => {
  const file = join(await temporaryFolder(), 'photons.parquet');
  const events = eventsOf(70_001);
  await writePhotonEvents(file, events);
  let from = 0;
  for await (const group of photonEventGroups(file)) {
    expect(group.count).toBeLessThanOrEqual(65_536);
    expect(bytesOf(group.tNs).equals(bytesOf(events.tNs.subarray(from, from + group.count)))).toBe(true);
    from += group.count;
  }
  expect(from).toBe(events.count);
});

test('before it is finished a table has no name, and a discarded one leaves nothing', async () => {
  const folder = await temporaryFolder();
  const writer = openPhotonEventWriter(join(folder, 'photons.parquet'));
  writer.append(eventsOf(70_000));
  expect(await readdir(folder)).not.toContain('photons.parquet');
  await writer.discard();
  expect(await readdir(folder)).toEqual([]);
});

test('a table that is missing, cut off or something else is refused', async () => {
  const folder = await temporaryFolder();
  const file = join(folder, 'photons.parquet');
  const todo = 'Copy the table again, or make it anew by inspecting the flight.';
  expect(await messageOf(readPhotonEvents(file), folder)).toBe(
    `InputError: photons.parquet: found no such file, expected a Parquet table of photon events. ${todo}`,
  );
  await writePhotonEvents(file, eventsOf(5000));
  await truncate(file, 20_000);
  expect(await messageOf(readPhotonEvents(file), folder)).toMatch(
    /^InputError: photons\.parquet: found no readable Parquet footer \(.+\), expected a Parquet table of photon events\./,
  );
});

test('an interrupted or failing write leaves the file as it was', async () => {
  const folder = await temporaryFolder();
  const file = join(folder, 'registration.json');
  await writeFile(file, 'old');
  await writeFileAtomically(file, 'new, and longer');
  expect(await readFile(file, 'utf8')).toBe('new, and longer');
  await expect(writeFileAtomically(join(folder, 'no such folder', 'x'), 'y')).rejects.toThrow('ENOENT');
  await expect(writeFileAtomically(folder, 'y')).rejects.toThrow();
  expect(await readdir(folder)).toEqual(['registration.json']);
});
