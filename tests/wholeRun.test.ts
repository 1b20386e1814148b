import { execFile, spawn } from 'node:child_process';
import { createHash } from 'node:crypto';
import { existsSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { promisify } from 'node:util';
import { beforeAll, describe, expect, test } from 'vitest';
import { bin, corposant, type InventedCampaign, inventedCampaign } from './inventedCampaign.ts';

const run = promisify(execFile);
const sha256 = (file: string): string => createHash('sha256').update(readFileSync(file)).digest('hex');

describe('the whole job, by the command, on the invented world of seed 5', () => {
  let world: InventedCampaign;
  const at = (...parts: string[]): string => world.at(...parts);
  const inspectWords = (campaign: string): string[] => world.inspectWords(campaign);
  let bench: InventedCampaign['bench'];

  beforeAll(async () => {
    world = await inventedCampaign();
    bench = world.bench;
  }, 900_000);

  test('the registration leaves 0.3 px or less on sweeps it has not seen, and a degree 2 polynomial ten times as much', () => {
    expect(bench.statistics.heldOutRmsPx).toBeLessThan(0.3);
    // A tenth above the noise of the correspondences is what the method promises.
    expect(bench.statistics.heldOutRmsPx).toBeLessThan(1.1 * bench.statistics.noiseFloorPx);
    const polynomial = bench.ladder.rows.find((row) => row.kind === 'polynomial degree 2');
    expect(polynomial?.heldOutRmsPx).toBeGreaterThan(10 * bench.statistics.heldOutRmsPx);
  });

  test('discharges of one event in eight frames and more are found, placed within decimetres, and no trap is reported', async () => {
    const score = await corposant('score', at('campaign.gpkg'), at('world', 'flight', 'truth.json'));
    const strong = score.byStrength.filter(
      (c: { name: string }) => !c.name.startsWith('below') && !c.name.startsWith('1 in 12'),
    );
    for (const c of strong) expect(c.found, c.name).toBe(c.truths);
    expect(score.falseAlarms).toBe(0);
    expect(score.traps.filter((t: { becameFinding: string | null }) => t.becameFinding !== null)).toEqual([]);
    // 0.10 m is the promise for the median over many flights; one flight's shared errors may double it.
    expect(score.medianErrorM).toBeLessThan(0.2);
    expect(score.error95M).toBeLessThan(0.6);
  });

  test('a run of one thread killed in the middle goes on with several, and ends with the same campaign to the byte', async () => {
    const campaign = at('killed', 'campaign.gpkg');
    const child = spawn(process.execPath, [bin, ...inspectWords(campaign), '--threads', '0', '--quiet'], {
      stdio: 'ignore',
    });
    const checkpoint = (): boolean => {
      const work = at('killed', 'campaign.work');
      return (
        existsSync(work) &&
        readdirSync(work).some((f) => readdirSync(path.join(work, f)).some((s) => s.endsWith('.state')))
      );
    };
    const ended = new Promise((resolve) => child.on('close', resolve));
    while (!checkpoint()) {
      expect(child.exitCode, 'the run ended before its first checkpoint').toBeNull();
      await new Promise((resolve) => setTimeout(resolve, 20));
    }
    child.kill('SIGKILL');
    await ended;
    await corposant(...inspectWords(campaign), '--threads', '2');
    expect(sha256(campaign)).toBe(sha256(at('campaign.gpkg')));
    expect(sha256(at('killed', 'campaign.events', 'Skerrow-line-spring.parquet'))).toBe(
      sha256(at('campaign.events', 'Skerrow-line-spring.parquet')),
    );
    expect(existsSync(at('killed', 'campaign.work'))).toBe(false);
  }, 300_000);

  test('inspecting again finds the flight done and changes no byte', async () => {
    const before = sha256(at('campaign.gpkg'));
    expect(await corposant(...inspectWords(at('campaign.gpkg')))).toMatchObject({ alreadyInspected: true });
    expect(sha256(at('campaign.gpkg'))).toBe(before);
  });

  test('GDAL lists every layer of the campaign without a warning', async () => {
    const { stdout, stderr } = await run('ogrinfo', ['-so', '-al', at('campaign.gpkg')], { maxBuffer: 1 << 24 });
    expect(stderr).toBe('');
    for (const layer of [
      'structures',
      'components',
      'conductors',
      'flight_tracks',
      'sightings',
      'discharges',
      'findings',
      'coverage',
    ])
      expect(stdout).toContain(`Layer name: ${layer}\n`);
  });

  test('the report names every finding, and its text can be searched', async () => {
    const report = await corposant('report', at('campaign.gpkg'), '--out', at('report'));
    const { stdout } = await run('pdftotext', ['-layout', report.pdfFile, '-']);
    for (let i = 1; i <= report.findings; i++) expect(stdout).toMatch(new RegExp(`\\bF${i}\\b`));
    expect(stdout).toContain('EPSG:4979');
    expect(report.findings).toBeGreaterThan(5);
  }, 120_000);

  test('a flight given to the wrong rig is refused with the remedy, and exit code 3', async () => {
    const rig = JSON.parse(readFileSync(at('world', 'rig.json'), 'utf8'));
    rig.id = 'another-rig';
    const file = at('another-rig.json');
    writeFileSync(file, JSON.stringify(rig));
    const words = inspectWords(at('refused.gpkg')).map((word) => (word === at('world', 'rig.json') ? file : word));
    await expect(run(process.execPath, [bin, ...words])).rejects.toMatchObject({
      code: 3,
      stderr: expect.stringContaining('rigId'),
    });
    expect(existsSync(at('refused.gpkg'))).toBe(false);
  });
});
