import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { temporaryFolder } from '../campaign/smallCampaign.testdata.ts';
import { startedDesk } from './smallDesk.testdata.ts';

const BYTES = Uint8Array.from({ length: 1000 }, (_, i) => (i * 7) % 251);

async function tilesAt(): Promise<(name: string, range?: string) => Promise<Response>> {
  const tilesFile = join(temporaryFolder(), 'moor.pmtiles');
  writeFileSync(tilesFile, BYTES);
  const { origin } = await startedDesk({ tilesFile });
  return (name, range) => fetch(`${origin}/api/tiles/${name}`, range === undefined ? {} : { headers: { range } });
}

test('the tile file comes whole, or in the ranges of bytes that a map asks for', async () => {
  const tiles = await tilesAt();
  expect(new Uint8Array(await (await tiles('moor.pmtiles')).arrayBuffer())).toEqual(BYTES);
  const part = await tiles('moor.pmtiles', 'bytes=10-19');
  expect([part.status, part.headers.get('content-range')]).toEqual([206, 'bytes 10-19/1000']);
  expect(new Uint8Array(await part.arrayBuffer())).toEqual(BYTES.slice(10, 20));
  const toTheEnd = await tiles('moor.pmtiles', 'bytes=990-2000');
  expect(toTheEnd.headers.get('content-range')).toBe('bytes 990-999/1000');
});

test('a range behind the end is refused, and no other file is served', async () => {
  const tiles = await tilesAt();
  expect((await tiles('moor.pmtiles', 'bytes=1000-1010')).status).toBe(416);
  expect((await tiles('campaign.gpkg')).status).toBe(404);
});
