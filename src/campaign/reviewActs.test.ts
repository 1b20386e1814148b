import { execFile } from 'node:child_process';
import { join } from 'node:path';
import { promisify } from 'node:util';
import Sqlite from 'better-sqlite3';
import { expect, test } from 'vitest';
import { randomFrom } from '../maths/random.ts';
import { defineGeometryFunctions } from './geopackageTables.ts';
import { openGeoPackageCampaign } from './openGeoPackageCampaign.ts';
import type { ReviewableCampaign } from './ReviewableCampaign.ts';
import type { ReviewCommand, ReviewOutcome } from './ReviewCommand.ts';
import { ABOUT, resultOf, temporaryFolder } from './smallCampaign.testdata.ts';

/** West: D1 seen in two sightings, D2 in one, and one sighting that nobody believed. */
function twoPasses() {
  const west = resultOf('west');
  const [first, suspect] = west.sightings;
  return {
    ...west,
    sightings: [
      first,
      {
        ...first,
        id: 'west-S3',
        fromUtc: '2026-05-12T06:35:00Z',
        toUtc: '2026-05-12T06:35:08Z',
        events: 62,
        framesInView: 401,
        seedLlh: [-3.9003, 57.2003, 242.5] as const,
      },
      { ...first, id: 'west-S4', dischargeId: 'west-D2', fromUtc: '2026-05-12T06:36:00Z' },
      suspect,
    ],
  };
}

function campaignFile(): string {
  const file = join(temporaryFolder(), 'campaign.gpkg');
  const store = openGeoPackageCampaign(file, { create: true });
  store.initialise(ABOUT);
  store.saveInspection(twoPasses());
  store.close();
  return file;
}

const reopen = (file: string): ReviewableCampaign => openGeoPackageCampaign(file, { create: false });

/** A reviewer who takes each finding as it is now. */
function reviewer(store: ReviewableCampaign, by: string) {
  let minute = 0;
  const say = (rest: Omit<ReviewCommand, 'by' | 'atUtc' | 'why'> & Record<string, unknown>): ReviewOutcome =>
    store.act({
      by,
      atUtc: new Date(Date.UTC(2026, 4, 20, 9, minute++)).toISOString(),
      why: '',
      ...rest,
    } as ReviewCommand);
  const asIs = (...ids: string[]) => ids.map((id) => ({ id, revision: null }));
  return {
    decide: (decision: string, ...ids: string[]) =>
      say({ action: 'decide', findings: asIs(...ids), decision, comment: '' } as never),
    comment: (comment: string, ...ids: string[]) =>
      say({ action: 'comment', findings: asIs(...ids), comment } as never),
    merge: (into: string, ...ids: string[]) =>
      say({ action: 'merge', into: asIs(into)[0], findings: asIs(...ids) } as never),
    split: (from: string, ...sightingIds: string[]) =>
      say({ action: 'split', from: asIs(from)[0], sightingIds } as never),
    undo: (act: number | null = null) => say({ action: 'undo', act } as never),
    redo: () => say({ action: 'redo' } as never),
  };
}

const decisions = (store: ReviewableCampaign) =>
  Object.fromEntries(store.findings().map(({ id, decision }) => [id, decision]));

/** All that review may touch, row by row. */
function rowsOfReview(file: string): unknown {
  const db = new Sqlite(file, { readonly: true });
  const rows = ['findings', 'discharges', 'sightings'].map((table) =>
    db.prepare(`SELECT * FROM ${table} ORDER BY id`).all(),
  );
  db.close();
  return rows;
}

test('a reviewer who saw an older state of a finding is refused, and told which; nothing is lost', () => {
  const store = reopen(campaignFile());
  const seen = store.findingRevisions();
  const decide = (by: string, decision: 'confirmed' | 'rejected', revision: string) =>
    store.act({
      action: 'decide',
      by,
      atUtc: '2026-05-20T09:00:00Z',
      why: '',
      decision,
      comment: '',
      findings: [
        { id: 'west-D1', revision },
        { id: 'west-D2', revision: seen.get('west-D2')! },
      ],
    });
  expect(decide('I. Moor', 'confirmed', seen.get('west-D1')!)).toMatchObject({
    kind: 'done',
    changed: ['west-D1', 'west-D2'],
  });
  expect(decide('B. Firth', 'rejected', seen.get('west-D1')!)).toEqual({
    kind: 'conflict',
    findings: ['west-D1', 'west-D2'],
  });
  expect(decisions(store)).toEqual({ 'west-D1': 'confirmed', 'west-D2': 'confirmed' });
  expect(store.acts()).toHaveLength(2);
  store.close();
});

test('an act about one finding leaves the revision of the others, so that two reviewers do not hinder each other', () => {
  const store = reopen(campaignFile());
  const before = store.findingRevisions();
  const campaignBefore = store.revision();
  reviewer(store, 'I. Moor').decide('confirmed', 'west-D1');
  const after = store.findingRevisions();
  expect(after.get('west-D1')).not.toBe(before.get('west-D1'));
  expect(after.get('west-D2')).toBe(before.get('west-D2'));
  expect(store.revision()).not.toBe(campaignBefore);
  store.close();
});

test('one undo takes back what was done to several findings together, and redo does it again', () => {
  const store = reopen(campaignFile());
  const moor = reviewer(store, 'I. Moor');
  moor.decide('rejected', 'west-D1', 'west-D2');
  moor.undo();
  expect(decisions(store)).toEqual({ 'west-D1': 'open', 'west-D2': 'open' });
  moor.redo();
  expect(decisions(store)).toEqual({ 'west-D1': 'rejected', 'west-D2': 'rejected' });
  expect(store.acts().map(({ what, act }) => [what, act])).toEqual([
    ['rejected', 1],
    ['rejected', 1],
    ['undo', 3],
    ['redo', 4],
  ]);
  store.close();
});

test('undo takes back the own last act and leaves what another reviewer did since', () => {
  const store = reopen(campaignFile());
  const moor = reviewer(store, 'I. Moor');
  const firth = reviewer(store, 'B. Firth');
  moor.decide('confirmed', 'west-D1');
  firth.comment('cracked disc', 'west-D1');
  expect(moor.undo()).toMatchObject({ kind: 'done' });
  expect(store.findings()[0]).toMatchObject({ decision: 'open', comment: 'cracked disc' });
  expect(moor.undo()).toMatchObject({ kind: 'refused', because: 'nothing to take back' });
  // After a new act there is nothing to do again.
  moor.decide('rejected', 'west-D2');
  expect(moor.redo()).toMatchObject({ kind: 'refused', because: 'nothing to take back' });
  store.close();
});

test('a finding merged into another is no finding any more, until that is taken back', () => {
  const store = reopen(campaignFile());
  const moor = reviewer(store, 'I. Moor');
  expect(moor.merge('west-D1', 'west-D2')).toMatchObject({ kind: 'done', changed: ['west-D1', 'west-D2'] });
  expect(store.findings().map(({ id }) => id)).toEqual(['west-D1']);
  expect(store.mergedFindings().map(({ id, mergedInto }) => [id, mergedInto])).toEqual([['west-D2', 'west-D1']]);
  expect(moor.decide('confirmed', 'west-D2')).toMatchObject({
    because: 'merged already',
    detail: 'west-D2 went into west-D1',
  });
  expect(moor.merge('west-D1', 'west-D1')).toMatchObject({ because: 'merged with itself' });
  moor.undo();
  expect(store.findings().map(({ id }) => id)).toEqual(['west-D1', 'west-D2']);
  store.close();
});

test('a split divides events, rays and rate between the two parts, widens both ellipsoids, and undo brings back every row', () => {
  const file = campaignFile();
  const before = rowsOfReview(file);
  const store = reopen(file);
  const [whole] = store.discharges();
  const moor = reviewer(store, 'I. Moor');
  moor.comment('two glows', 'west-D1');
  expect(moor.split('west-D1', 'west-S3')).toMatchObject({ kind: 'done', changed: ['west-D1', 'west-D1.2'] });
  const parts = store.discharges().filter(({ id }) => id.startsWith('west-D1'));
  expect(parts.map(({ id, rays, passes }) => [id, rays, passes])).toEqual([
    // 41 rays by 188 and 62 events.
    ['west-D1', 31, 1],
    ['west-D1.2', 10, 1],
  ]);
  expect(parts.reduce((sum, { rate }) => sum + rate.events, 0)).toBeCloseTo(whole.rate.events, 9);
  // By definition the means over frames add up: 451 of 852 frames hold the first part.
  const meanHz = (451 * parts[0].rate.rateHz + 401 * parts[1].rate.rateHz) / 852;
  expect(meanHz / whole.rate.rateHz).toBeCloseTo(1, 9);
  for (const part of parts) expect(part.covarianceEnuM2[0]).toBeGreaterThan(whole.covarianceEnuM2[0]);
  expect(store.findings().map(({ id, splitFrom, comment }) => [id, splitFrom, comment])).toEqual([
    ['west-D1', undefined, 'two glows'],
    ['west-D2', undefined, ''],
    ['west-D1.2', 'west-D1', ''],
  ]);
  expect(store.sightings().map(({ id, dischargeId }) => [id, dischargeId])).toEqual([
    ['west-S1', 'west-D1'],
    ['west-S3', 'west-D1.2'],
    ['west-S4', 'west-D2'],
    ['west-S2', null],
  ]);
  moor.undo();
  moor.undo();
  store.close();
  expect(rowsOfReview(file)).toEqual(before);
});

test('a split is refused where nothing would be left or the sightings are of another finding', () => {
  const store = reopen(campaignFile());
  const moor = reviewer(store, 'I. Moor');
  expect(moor.split('west-D1', 'west-S1', 'west-S3')).toMatchObject({ because: 'nothing would be left' });
  expect(moor.split('west-D1', 'west-S4')).toMatchObject({ because: 'not its sightings', detail: 'west-S4' });
  expect(moor.split('west-D2', 'west-S4')).toMatchObject({ because: 'nothing would be left' });
  expect(store.acts()).toHaveLength(0);
  store.close();
});

test('what was split off and reviewed since cannot be taken away from under the review', () => {
  const store = reopen(campaignFile());
  const moor = reviewer(store, 'I. Moor');
  moor.split('west-D1', 'west-S3');
  reviewer(store, 'B. Firth').decide('confirmed', 'west-D1.2');
  expect(moor.undo()).toMatchObject({ because: 'later acts rest on it' });
  reviewer(store, 'B. Firth').undo();
  expect(moor.undo()).toMatchObject({ kind: 'done' });
  expect(store.discharges().map(({ id }) => id)).toEqual(['west-D1', 'west-D2']);
  store.close();
});

test('a flight inspected again keeps what was merged, divided and decided', () => {
  const file = campaignFile();
  const store = reopen(file);
  const moor = reviewer(store, 'I. Moor');
  moor.split('west-D1', 'west-S3');
  moor.decide('confirmed', 'west-D1.2');
  moor.merge('west-D1', 'west-D2');
  const state = () => ({ findings: store.findings(), merged: store.mergedFindings(), discharges: store.discharges() });
  const before = state();
  const again = twoPasses();
  store.saveInspection({ ...again, flight: { ...again.flight, uvFrames: again.flight.uvFrames + 1 } });
  expect(state()).toEqual(before);
  store.close();
});

test.each([3, 17, 40417])(
  'whatever two reviewers do, taking all of it back leaves the rows of the inspection, seed %i',
  (seed) => {
    const file = campaignFile();
    const before = rowsOfReview(file);
    const store = reopen(file);
    const random = randomFrom(seed);
    const people = [reviewer(store, 'I. Moor'), reviewer(store, 'B. Firth')];
    const pick = <T>(list: readonly T[]): T => list[Math.floor(random.uniform() * list.length)];
    let done = 0;
    for (let i = 0; i < 40; i++) {
      const who = pick(people);
      const ids = store.findings().map(({ id }) => id);
      const sightings = store.sightings().filter(({ dischargeId }) => dischargeId !== null);
      const one = pick(sightings);
      const outcome = pick([
        () => who.decide(pick(['open', 'confirmed', 'rejected']), pick(ids)),
        () => who.comment(`word ${i}`, pick(ids)),
        () => who.merge(pick(ids), pick(ids)),
        () => who.split(one.dischargeId!, one.id),
        () => who.undo(),
        () => who.redo(),
      ])();
      if (outcome.kind === 'done') done++;
    }
    expect(done).toBeGreaterThan(15);
    // Newest first, by whoever did it: nothing then rests on what is taken back.
    for (let undone = true; undone; ) {
      undone = false;
      const acts = [...new Set(store.acts().map(({ act }) => act))].reverse();
      for (const act of acts) if (people[0].undo(act).kind === 'done') undone = true;
    }
    store.close();
    expect(rowsOfReview(file)).toEqual(before);
  },
);

test('two processes that decide on the same findings at once: of each finding one is heard, the other is told', async () => {
  const file = campaignFile();
  const script = `
    import { openGeoPackageCampaign } from ${JSON.stringify(new URL('./openGeoPackageCampaign.ts', import.meta.url).href)};
    const store = openGeoPackageCampaign(process.argv[1], { create: false });
    const seen = JSON.parse(process.argv[3]);
    const kinds = Object.entries(seen).map(([id, revision]) => store.act({
      action: 'decide', by: process.argv[2], atUtc: '2026-05-20T09:00:00Z', why: '', decision: 'confirmed', comment: process.argv[2],
      findings: [{ id, revision }] }).kind);
    process.stdout.write(JSON.stringify(kinds));`;
  const store = reopen(file);
  const seen = JSON.stringify(Object.fromEntries(store.findingRevisions()));
  const run = async (who: string): Promise<string[]> => {
    const { stdout } = await promisify(execFile)(process.execPath, [
      '--import',
      'tsx',
      '--input-type=module',
      '-e',
      script,
      file,
      who,
      seen,
    ]);
    return JSON.parse(stdout) as string[];
  };
  const [a, b] = await Promise.all([run('one'), run('two')]);
  for (const i of [0, 1]) expect([a[i], b[i]].sort()).toEqual(['conflict', 'done']);
  expect(store.acts()).toHaveLength(2);
  expect(store.findings().map(({ comment }) => comment)).toEqual([
    a[0] === 'done' ? 'one' : 'two',
    a[1] === 'done' ? 'one' : 'two',
  ]);
  store.close();
});

test('a campaign of the first version is brought to this one with its log, and can be taken back in', () => {
  const file = campaignFile();
  const old = new Sqlite(file);
  defineGeometryFunctions(old);
  old.pragma('trusted_schema = ON');
  old.exec(`
    ALTER TABLE review_log DROP COLUMN why; ALTER TABLE review_log DROP COLUMN act; ALTER TABLE review_log DROP COLUMN others;
    ALTER TABLE findings DROP COLUMN merged_into; ALTER TABLE findings DROP COLUMN split_from;
    ALTER TABLE discharges DROP COLUMN as_inspected;
    DELETE FROM schema_versions WHERE version >= 2;
    INSERT INTO review_log (finding, at_utc, who, what, value, position_enu_m) VALUES ('west-D1', '2026-05-19T09:00:00Z', 'I. Moor', 'rejected', 'sun', '[3.1, 4.7, 29.411111111111111]');
    UPDATE findings SET decision = 'rejected', comment = 'sun' WHERE id = 'west-D1';
  `);
  old.close();
  const store = reopen(file);
  expect(store.acts()).toMatchObject([{ act: 1, line: 1, what: 'rejected', why: '', others: [] }]);
  expect(decisions(store)).toEqual({ 'west-D1': 'rejected', 'west-D2': 'open' });
  expect(reviewer(store, 'I. Moor').undo()).toMatchObject({ kind: 'done' });
  expect(decisions(store)).toEqual({ 'west-D1': 'open', 'west-D2': 'open' });
  store.close();
});
