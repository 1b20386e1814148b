import { execFile } from 'node:child_process';
import { copyFileSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { promisify } from 'node:util';
import Sqlite from 'better-sqlite3';
import { expect, test } from 'vitest';
import { inspectedCampaign } from './inspectedCampaign.testdata.ts';
import { openGeoPackageCampaign } from './openGeoPackageCampaign.ts';
import { SCHEMA_VERSION } from './schemaMigrations.ts';
import { ABOUT, LINE, ORIGIN, resultOf, temporaryFolder } from './smallCampaign.testdata.ts';

test('everything that an inspection found comes back to the last digit, also from another opening of the file', () => {
  const file = inspectedCampaign();
  const store = openGeoPackageCampaign(file, { create: false });
  const result = resultOf('west');
  expect(store.about()).toEqual({
    name: ABOUT.name,
    originLlh: ORIGIN,
    lineHash: ABOUT.lineHash,
    schemaVersion: SCHEMA_VERSION,
  });
  expect(store.line()).toEqual(LINE);
  expect(store.flights()).toEqual([result.flight]);
  expect(store.sightings()).toEqual(result.sightings);
  expect(store.discharges()).toEqual(result.discharges);
  expect(store.findings()).toEqual(result.findings);
  expect(store.evidenceOf('west-D1')).toEqual(result.evidence);
  expect(store.evidenceOf('west-D2')).toEqual([]);
  expect(store.coverage()).toEqual(result.coverage);
  expect(store.inspectionOf('west')).toEqual(result.flight.provenance);
  expect(store.inspectionOf('east')).toBeNull();
  store.close();
});

test('a campaign that was not initialised says so instead of guessing', () => {
  const store = openGeoPackageCampaign(join(temporaryFolder(), 'c.gpkg'), { create: true });
  expect(store.about()).toBeNull();
  expect(() => store.saveInspection(resultOf('west'))).toThrow('call initialise first');
  store.close();
});

test('the same inspection into a fresh file gives the same bytes', () => {
  expect(readFileSync(inspectedCampaign('one.gpkg')).equals(readFileSync(inspectedCampaign('two.gpkg')))).toBe(true);
});

test('the same inspection saved again leaves every byte of the file as it was', () => {
  const file = inspectedCampaign();
  const before = readFileSync(file);
  const store = openGeoPackageCampaign(file, { create: true });
  store.initialise(ABOUT);
  store.saveInspection(resultOf('west'));
  store.close();
  expect(readFileSync(file).equals(before)).toBe(true);
});

test('a second inspection of a flight replaces the first, and the words of the reviewers stay', () => {
  const file = inspectedCampaign();
  const store = openGeoPackageCampaign(file, { create: false });
  store.saveInspection(resultOf('east', { endUtc: '2026-05-13T07:00:00Z' }));
  store.review({
    findingId: 'west-D1',
    atUtc: '2026-05-20T09:00:00Z',
    who: 'I. Moor',
    what: 'confirmed',
    value: 'cracked disc',
  });
  const again = resultOf('west');
  store.saveInspection({
    ...again,
    discharges: again.discharges.slice(0, 1),
    findings: again.findings.slice(0, 1),
    flight: { ...again.flight, uvFrames: 33_876 },
  });
  expect(store.flights().map(({ name, uvFrames }) => [name, uvFrames])).toEqual([
    ['east', 33_875],
    ['west', 33_876],
  ]);
  expect(store.findings().map(({ id, decision, comment }) => [id, decision, comment])).toEqual([
    ['east-D1', 'open', ''],
    ['east-D2', 'open', ''],
    ['west-D1', 'confirmed', 'cracked disc'],
  ]);
  expect(store.reviewLog()).toHaveLength(1);
  store.close();
});

test('a decision does not move to another place that a later inspection gives the same number', () => {
  const store = openGeoPackageCampaign(inspectedCampaign(), { create: false });
  store.review({ findingId: 'west-D1', atUtc: '2026-05-20T09:00:00Z', who: 'I. Moor', what: 'rejected', value: 'sun' });
  const movedBy = (eastM: number) => {
    const again = resultOf('west');
    const [d1, d2] = again.discharges;
    const [east, north, up] = d1.positionEnuM;
    store.saveInspection({ ...again, discharges: [{ ...d1, positionEnuM: [east + eastM, north, up] }, d2] });
    return store.findings()[0].decision;
  };
  // Its sigmas are 0.2, 0.3 and 0.4 m: the gate lies at sqrt(18 * 0.29) = 2.28 m.
  expect(movedBy(2.2)).toBe('rejected');
  expect(movedBy(2.4)).toBe('open');
  expect(movedBy(0)).toBe('rejected');
  expect(store.reviewLog()).toHaveLength(1);
  store.close();
});

test('a result that cannot be stored whole is not stored at all', () => {
  const file = inspectedCampaign();
  const store = openGeoPackageCampaign(file, { create: false });
  const broken = resultOf('east');
  const nan = { ...broken.discharges[1], normalisedRms: Number.NaN };
  expect(() => store.saveInspection({ ...broken, discharges: [broken.discharges[0], nan] })).toThrow(
    'normalisedRms is NaN and cannot be stored',
  );
  expect(() => store.saveInspection({ ...broken, coverage: [{ ...broken.coverage[0], componentId: 'T9' }] })).toThrow(
    'coverage of T9, which the line does not have',
  );
  expect(store.flights().map(({ name }) => name)).toEqual(['west']);
  expect(store.discharges()).toHaveLength(2);
  store.close();
});

test('coverage over two flights adds the frames and keeps the better range and limit', () => {
  const store = openGeoPackageCampaign(inspectedCampaign(), { create: false });
  const east = resultOf('east');
  store.saveInspection({
    ...east,
    coverage: [
      { componentId: 'T1-A-string', state: 'clear', framesInView: 49, nearestRangeM: 25.5, limitHz: 9e8 },
      { componentId: 'S1-E', state: 'clear', framesInView: 12, nearestRangeM: 61, limitHz: 2e9 },
    ],
  });
  expect(store.coverage()).toEqual([
    { componentId: 'T1-A-string', state: 'finding', framesInView: 500, nearestRangeM: 25.5, limitHz: 4.2e8 },
    resultOf('west').coverage[1],
    { componentId: 'S1-E', state: 'clear', framesInView: 12, nearestRangeM: 61, limitHz: 2e9 },
  ]);
  store.close();
});

test('review decides, comments, moves to another component and takes back; the log keeps every step', () => {
  const store = openGeoPackageCampaign(inspectedCampaign(), { create: false });
  const say = (what: 'confirmed' | 'rejected' | 'reopened' | 'comment' | 'component', value: string, minute: number) =>
    store.review({ findingId: 'west-D1', atUtc: `2026-05-20T09:0${minute}:00Z`, who: 'I. Moor', what, value });
  const now = () => {
    const { decision, comment, componentId, componentProbability } = store.findings()[0];
    return [decision, comment, componentId, componentProbability];
  };
  say('component', 'S1-A', 0);
  expect(now()).toEqual(['open', '', 'S1-A', 0.025]);
  say('confirmed', 'broken strand', 1);
  expect(now()).toEqual(['confirmed', 'broken strand', 'S1-A', 0.025]);
  say('comment', 'two strands', 2);
  expect(now()).toEqual(['confirmed', 'two strands', 'S1-A', 0.025]);
  say('component', 'S1-E', 3);
  expect(now()).toEqual(['confirmed', 'two strands', 'S1-E', 0]);
  say('component', '', 4);
  expect(now()).toEqual(['confirmed', 'two strands', null, 0.0625]);
  say('reopened', '', 5);
  expect(now()).toEqual(['open', 'two strands', null, 0.0625]);
  expect(store.reviewLog().map(({ what }) => what)).toEqual([
    'component',
    'confirmed',
    'comment',
    'component',
    'component',
    'reopened',
  ]);
  const refused = (findingId: string, value: string) => () =>
    store.review({ findingId, atUtc: '2026-05-20T09:09:00Z', who: 'I. Moor', what: 'component', value });
  expect(refused('west-D7', 'S1-A')).toThrow(
    'finding: found west-D7, expected a finding of this campaign. Check the name.',
  );
  expect(refused('west-D1', 'T7')).toThrow(
    'component: found T7, expected a component of the line, or nothing for none of them. Check the name.',
  );
  expect(store.reviewLog()).toHaveLength(6);
  store.close();
});

test('no program can change or remove a line of the review log', () => {
  const file = inspectedCampaign();
  const store = openGeoPackageCampaign(file, { create: false });
  store.review({ findingId: 'west-D1', atUtc: '2026-05-20T09:00:00Z', who: 'I. Moor', what: 'rejected', value: 'sun' });
  store.close();
  const db = new Sqlite(file);
  expect(() => db.exec('DELETE FROM review_log')).toThrow('the review log only grows');
  expect(() => db.exec("UPDATE review_log SET who = 'nobody'")).toThrow('the review log only grows');
  db.close();
});

test('another name, origin or line than the campaign has is refused', () => {
  const file = inspectedCampaign();
  const store = openGeoPackageCampaign(file, { create: false });
  const todo = 'Use the same line and origin, or begin another campaign file.';
  expect(() => store.initialise({ ...ABOUT, name: 'Autumn' })).toThrow(
    `${file}, name: found Autumn, expected Spring 2026, as this campaign has. ${todo}`,
  );
  expect(() => store.initialise({ ...ABOUT, originLlh: [-3.9, 57, 0] })).toThrow(
    'origin: found -3.9, 57, 0, expected -3.90123',
  );
  expect(() => store.initialise({ ...ABOUT, lineHash: 'cd' })).toThrow('line model: found cd, expected abab');
  store.close();
});

test('what is no campaign is refused, and left as it is', () => {
  const folder = temporaryFolder();
  const opening = (name: string, create: boolean) => () => openGeoPackageCampaign(join(folder, name), { create });
  expect(opening('none.gpkg', false)).toThrow(
    'none.gpkg: found no such file, expected a campaign. Inspect a flight into it first, or check the path.',
  );
  expect(opening('no folder/none.gpkg', true)).toThrow(
    'none.gpkg: found a path that cannot be opened, expected a file in a folder that exists and can be written.',
  );
  writeFileSync(
    join(folder, 'text.gpkg'),
    'not a database, but long enough to have a header of some kind in it'.repeat(40),
  );
  expect(opening('text.gpkg', true)).toThrow('text.gpkg: found a file that is no database, expected a campaign.');
  const other = new Sqlite(join(folder, 'other.gpkg'));
  other.exec('CREATE TABLE birds (name TEXT)');
  other.close();
  const before = readFileSync(join(folder, 'other.gpkg'));
  expect(opening('other.gpkg', true)).toThrow('other.gpkg: found a database of another kind, expected a campaign.');
  expect(readFileSync(join(folder, 'other.gpkg')).equals(before)).toBe(true);
  writeFileSync(join(folder, 'empty.gpkg'), '');
  expect(opening('empty.gpkg', false)).toThrow('empty.gpkg: found an empty file, expected a campaign.');
  expect(readdirSync(folder).sort()).toEqual(['empty.gpkg', 'other.gpkg', 'text.gpkg']);
});

test('a campaign of version 1 opens with all it held, and gains the columns that came later', () => {
  const file = inspectedCampaign();
  const db = new Sqlite(file);
  const later = ['passes', 'covered_share', 'hidden_share', 'hidden_by', 'fly_again', 'smear_px', 'exposure_s'];
  for (const column of [...later, 'farthest_range_m', 'view_azimuths_deg', 'view_elevations_deg'])
    db.exec(`ALTER TABLE coverage DROP COLUMN ${column}`);
  for (const table of ['rays', 'inspection_settings', 'comparisons', 'changes']) {
    db.exec(`DROP TABLE ${table}`);
    for (const list of ['gpkg_geometry_columns', 'gpkg_extensions', 'gpkg_contents'])
      db.prepare(`DELETE FROM ${list} WHERE table_name = ?`).run(table);
  }
  db.exec('DROP TABLE rtree_changes_geom; DROP TABLE layer_styles');
  db.exec("DELETE FROM gpkg_contents WHERE table_name = 'layer_styles'");
  db.exec('DELETE FROM schema_versions WHERE version > 1');
  db.close();
  const store = openGeoPackageCampaign(file, { create: false });
  expect(store.about()?.schemaVersion).toBe(SCHEMA_VERSION);
  expect(store.coverage()).toEqual(resultOf('west').coverage.map(({ view, ...old }) => old));
  store.close();
});

test('flights placed together share their discharges: sightings and pictures of either go to the common one', () => {
  const store = openGeoPackageCampaign(inspectedCampaign(), { create: false });
  const [west, east] = [resultOf('west'), resultOf('east')];
  const joint = {
    flights: ['west', 'east'],
    homeOf: { 'west-D1': 'west', 'west-D2': 'west', 'east-D2': 'east' },
    dischargeOf: Object.fromEntries(
      [...west.sightings, ...east.sightings].map((s) => [
        s.id,
        s.dischargeId === 'east-D1' ? 'west-D1' : s.dischargeId,
      ]),
    ),
    renamed: { 'west-D1': 'west-D1', 'east-D1': 'west-D1', 'west-D2': 'west-D2', 'east-D2': 'east-D2' },
  };
  const kept = [...west.discharges, ...east.discharges].filter((d) => d.id !== 'east-D1');
  const save = () =>
    store.saveInspection({
      ...east,
      discharges: kept,
      findings: [...west.findings, ...east.findings].filter((f) => f.id !== 'east-D1'),
      joint,
    });
  save();
  save();
  expect(store.discharges().map((d) => d.id)).toEqual(['west-D1', 'west-D2', 'east-D2']);
  expect(store.evidenceOf('west-D1').map((e) => e.flight)).toEqual(['west', 'east']);
  expect(store.sightings().filter((s) => s.dischargeId === 'west-D1')).toHaveLength(
    [...west.sightings, ...east.sightings].filter((s) => /D1$/.test(s.dischargeId ?? '')).length,
  );
  // The first flight inspected anew, by itself, takes its own discharges with it and leaves the others'.
  expect(store.inspectionOf('west')).not.toBeNull();
  store.close();
});

test('a campaign of a later release is refused', () => {
  const file = inspectedCampaign();
  const db = new Sqlite(file);
  db.exec("INSERT INTO schema_versions (version, what) VALUES (99, 'of the future')");
  db.close();
  expect(() => openGeoPackageCampaign(file, { create: true })).toThrow(
    `schema_versions: found version 99, expected at most ${SCHEMA_VERSION}, which this release knows. Open the campaign with the release that wrote it, or a later one.`,
  );
});

/** Runs a few lines of JavaScript with a plain connection `db` to the file, in a process of its own. */
const inAnotherProcess = (file: string, script: string) =>
  promisify(execFile)(process.execPath, [
    '-e',
    `const db = new (require('better-sqlite3'))(process.argv[1]); ${script}`,
    file,
  ]);

test('while another process holds the file, a review waits for its turn', async () => {
  const file = inspectedCampaign();
  const store = openGeoPackageCampaign(file, { create: false });
  const other = inAnotherProcess(
    file,
    `db.exec("BEGIN IMMEDIATE; INSERT INTO review_log (fid, finding, at_utc, who, what, value, position_enu_m) VALUES (1, 'west-D2', '2026-05-20T08:59:00Z', 'B. Firth', 'comment', 'first', '[0,0,0]')");
     process.stdout.write('held'); setTimeout(() => db.exec('COMMIT'), 400);`,
  );
  await Promise.race([other, new Promise((resolve) => other.child.stdout?.once('data', resolve))]);
  store.review({ findingId: 'west-D1', atUtc: '2026-05-20T09:00:00Z', who: 'I. Moor', what: 'confirmed', value: '' });
  expect(store.reviewLog().map(({ who }) => who)).toEqual(['B. Firth', 'I. Moor']);
  await other;
  store.close();
});

test('a process killed amid its transaction leaves the campaign as it was before', async () => {
  const file = inspectedCampaign();
  // So small a cache that pages of the unfinished transaction are in the file when the process dies.
  const killed = inAnotherProcess(
    file,
    `db.pragma('cache_size = 2'); db.pragma('foreign_keys = OFF'); db.exec('BEGIN IMMEDIATE');
     for (const table of ['evidence', 'coverage', 'provenance', 'schema_versions']) db.exec('DELETE FROM ' + table);
     db.prepare('UPDATE campaign SET line_model = ?').run('x'.repeat(300000));
     process.kill(process.pid, 'SIGKILL');`,
  );
  await expect(killed).rejects.toMatchObject({ signal: 'SIGKILL' });
  expect(readdirSync(join(file, '..'))).toContain('campaign.gpkg-journal');
  copyFileSync(file, `${file}.torn`);
  const store = openGeoPackageCampaign(file, { create: false });
  expect(store.line()).toEqual(LINE);
  expect(store.coverage()).toEqual(resultOf('west').coverage);
  expect(store.evidenceOf('west-D1')).toEqual(resultOf('west').evidence);
  store.close();
  // The journal was needed: without it the file is torn.
  expect(readFileSync(`${file}.torn`).equals(readFileSync(file))).toBe(false);
});
