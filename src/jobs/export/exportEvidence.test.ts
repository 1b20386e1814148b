import { execFileSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { unzipSync } from 'fflate';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { islandCampaign } from '../../report/islandCampaign.testdata.ts';
import { exportEvidenceOf } from './exportEvidence.ts';

let folder: string;
beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'corposant-'));
  await exportEvidenceOf(await islandCampaign(), 'tarnay.gpkg', join(folder, 'out'));
}, 60_000);
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const page = () => readFileSync(join(folder, 'out', 'index.html'), 'utf8');

test('every picture that the page names lies beside it, and no address of a network stands in it', () => {
  const named = new Set([...page().matchAll(/"file":"([^"]+)"/g)].map(([, file]) => file));
  expect(named.size).toBeGreaterThan(20);
  for (const file of named) expect(readFileSync(join(folder, 'out', file!)).length, file).toBeGreaterThan(100);
  // Names of XML vocabularies are no addresses that a browser fetches.
  expect(page().replaceAll('http://www.w3.org/2000/svg', '')).not.toMatch(/https?:\/\//);
});

test('the ZIP file is whole to another program, holds the same files, and is the same on any day', async () => {
  const store = await islandCampaign();
  const zip = join(folder, 'out.zip');
  await exportEvidenceOf(store, 'tarnay.gpkg', zip);
  const first = readFileSync(zip);
  const said = execFileSync(
    'python3',
    ['-c', 'import sys, zipfile as z; print(z.ZipFile(sys.argv[1]).testzip())', zip],
    {
      encoding: 'utf8',
    },
  );
  expect(said.trim()).toBe('None');
  expect(Buffer.from(unzipSync(first)['out/index.html']!).toString('utf8')).toBe(page());
  await exportEvidenceOf(store, 'tarnay.gpkg', zip);
  expect(readFileSync(zip).equals(first)).toBe(true);
}, 60_000);

test('an earlier hand-over is replaced, a folder with something else in it is left alone', async () => {
  const store = await islandCampaign();
  await exportEvidenceOf(store, 'tarnay.gpkg', join(folder, 'out'));
  expect(readdirSync(join(folder, 'out')).sort()).toEqual(['index.html', 'pictures', 'tables']);
  const other = join(folder, 'letters');
  mkdirSync(other);
  writeFileSync(join(other, 'letter.txt'), 'not ours');
  await expect(exportEvidenceOf(store, 'tarnay.gpkg', other)).rejects.toThrow(/a folder that holds something else/);
  expect(readdirSync(other)).toEqual(['letter.txt']);
}, 60_000);

test('a name that looks like the end of a script stays a name', () => {
  const data = /<script type="application\/json" id="data">(.*?)<\/script>/s.exec(page())![1]!;
  expect(data).not.toMatch(/[<>]/);
  const contents = JSON.parse(data) as { entries: unknown[]; languages: { code: string; pages: unknown[] }[] };
  expect(contents.languages.map(({ code, pages }) => [code, pages.length])).toEqual([
    ['en', contents.entries.length],
    ['de', contents.entries.length],
  ]);
});
