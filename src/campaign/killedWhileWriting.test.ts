import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { copyFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { expect, test } from 'vitest';
import { randomFrom } from '../maths/random.ts';
import { openGeoPackageCampaign } from './openGeoPackageCampaign.ts';
import { ABOUT, resultOf, temporaryFolder } from './smallCampaign.testdata.ts';

const ENDS = ['2026-05-12T06:40:17.5Z', '2026-05-12T06:41:17.5Z'] as const;

/** Saves two inspections of one flight by turns until it is killed, and says so after each. */
const writer = (store: string): string => `
import { readFileSync } from 'node:fs';
import { openGeoPackageCampaign } from ${JSON.stringify(store)};
const results = JSON.parse(readFileSync(process.argv[3], 'utf8'), (key, value) =>
  key === 'colourJpeg' ? Uint8Array.from(value) : value);
const store = openGeoPackageCampaign(process.argv[2], { create: false });
for (let round = 1; ; round++) {
  store.saveInspection(results[round % 2]);
  process.stdout.write('saved ' + round + '\\n');
}`;

/** Writers start together: most of a round is a program that starts, and each has a campaign of its own. */
const ROUNDS = 5;

test('killed at any moment of its writing, a campaign opens with one whole inspection, seed 31', async () => {
  const folder = temporaryFolder();
  const [first, script, given] = ['campaign.gpkg', 'writer.mjs', 'results.json'].map((name) => join(folder, name));
  writeFileSync(script, writer(new URL('./openGeoPackageCampaign.ts', import.meta.url).href));
  const results = ENDS.map((endUtc) => resultOf('west', { endUtc }));
  writeFileSync(
    given,
    JSON.stringify(results, (key, value) => (key === 'colourJpeg' ? [...(value as Uint8Array)] : value)),
  );
  const made = openGeoPackageCampaign(first, { create: true });
  made.initialise(ABOUT);
  made.saveInspection(results[0]);
  made.close();
  const random = randomFrom(31);
  await Promise.all(
    Array.from({ length: ROUNDS }, async (_, round) => {
      const file = join(folder, `campaign-${round}.gpkg`);
      const patienceMs = 60 * random.uniform();
      copyFileSync(first, file);
      await killedAfterItsFirstSave([script, file, given], patienceMs);
      const store = openGeoPackageCampaign(file, { create: false });
      const [flight] = store.flights();
      const expected = resultOf('west', { endUtc: flight.endUtc });
      expect(ENDS).toContain(flight.endUtc);
      expect(store.discharges()).toEqual(expected.discharges);
      expect(store.findings()).toEqual(expected.findings);
      expect(store.evidenceOf('west-D1')).toEqual(expected.evidence);
      store.close();
    }),
  );
}, 120_000);

async function killedAfterItsFirstSave(words: readonly string[], patienceMs: number): Promise<void> {
  const child = spawn(process.execPath, ['--import', 'tsx', ...words], { stdio: ['ignore', 'pipe', 'inherit'] });
  const ended = once(child, 'exit');
  await Promise.race([once(createInterface({ input: child.stdout }), 'line'), ended]);
  expect(child.exitCode, 'the writer ended by itself').toBeNull();
  await new Promise((resolve) => setTimeout(resolve, patienceMs));
  child.kill('SIGKILL');
  await ended;
}
