import { expect, test } from 'vitest';
import { openGeoPackageCampaign } from '../campaign/openGeoPackageCampaign.ts';
import type { FindingsAnswer } from './api/findings.ts';
import { type ReviewLogAnswer, type ReviewRequest, reviewConflict, reviewDone } from './api/review.ts';
import type { OpenedDesk } from './openDesk.ts';
import { smallCampaignFile, startedDesk } from './smallDesk.testdata.ts';

const post = (desk: OpenedDesk, body: unknown, headers: Record<string, string> = {}) =>
  fetch(new URL('/api/review', desk.origin), {
    method: 'POST',
    headers: { 'content-type': 'application/json', authorization: `Bearer ${desk.token}`, ...headers },
    body: typeof body === 'string' ? body : JSON.stringify(body),
  });
const get = async <T>(desk: OpenedDesk, path: string): Promise<T> =>
  (await (await fetch(new URL(path, desk.origin))).json()) as T;

const seen = async (desk: OpenedDesk) => {
  const { findings } = await get<FindingsAnswer>(desk, '/api/findings');
  return findings.map(({ id, revision }) => ({ id, revision }));
};
const decide = (
  by: string,
  findings: { id: string; revision: string }[],
  decision: 'confirmed' | 'rejected',
): ReviewRequest => ({
  action: 'decide',
  by,
  findings,
  decision,
  comment: '',
});

test('of two reviewers who look at the same state, the second is told what the first did, and nothing is lost', async () => {
  const desk = await startedDesk();
  const [d1, d2] = await seen(desk);
  const first = await post(desk, {
    ...decide('I. Moor', [d1], 'confirmed'),
    comment: 'cracked disc',
    why: 'picture 2',
  });
  expect(reviewDone.parse(await first.json())).toMatchObject({
    canUndo: true,
    canRedo: false,
    changed: [{ id: 'west-D1' }],
  });
  const second = await post(desk, decide('B. Firth', [d1, d2], 'rejected'));
  expect(second.status).toBe(409);
  const { newer } = reviewConflict.parse(await second.json());
  expect(newer).toMatchObject([
    {
      id: 'west-D1',
      decision: 'confirmed',
      comment: 'cracked disc',
      lastActs: [{ who: 'I. Moor', what: 'confirmed', why: 'picture 2' }],
    },
  ]);
  // The other one, which nobody touched, can be decided on with what was seen.
  expect((await post(desk, decide('B. Firth', [d2], 'rejected'))).status).toBe(200);
  const { entries } = await get<ReviewLogAnswer>(desk, '/api/review');
  expect(entries.map(({ who, findingId, what }) => [who, findingId, what])).toEqual([
    ['I. Moor', 'west-D1', 'confirmed'],
    ['B. Firth', 'west-D2', 'rejected'],
  ]);
  expect((await get<ReviewLogAnswer>(desk, `/api/review?since=${entries[0].line}`)).entries).toHaveLength(1);
});

test('merging takes a finding out of the list, and undo brings it back', async () => {
  const desk = await startedDesk();
  const [d1, d2] = await seen(desk);
  expect((await post(desk, { action: 'merge', by: 'I. Moor', into: d1, findings: [d2] })).status).toBe(200);
  const merged = await get<FindingsAnswer>(desk, '/api/findings');
  expect([merged.findings.map(({ id }) => id), merged.merged.map(({ id, mergedInto }) => [id, mergedInto])]).toEqual([
    ['west-D1'],
    [['west-D2', 'west-D1']],
  ]);
  expect((await post(desk, { action: 'undo', by: 'I. Moor' })).status).toBe(200);
  expect((await seen(desk)).map(({ id }) => id)).toEqual(['west-D1', 'west-D2']);
  const again = await post(desk, { action: 'undo', by: 'I. Moor' });
  expect(await again.json()).toMatchObject({ type: 'refused', title: 'nothing to take back', status: 422 });
});

test('nobody writes without the token of this start, also on this machine', async () => {
  const desk = await startedDesk();
  const request = decide('I. Moor', await seen(desk), 'confirmed');
  for (const authorization of ['', 'Bearer wrong', `Basic ${desk.token}`]) {
    const answer = await post(desk, request, { authorization });
    expect([answer.status, ((await answer.json()) as { type: string }).type]).toEqual([401, 'token-needed']);
  }
  // A page of another site would have the cookie sent along by an old browser: its origin is refused none the less.
  const elsewhere = await post(desk, request, {
    authorization: '',
    cookie: `corposant-${new URL(desk.origin).port}=${desk.token}`,
    origin: 'https://elsewhere.example',
  });
  expect(elsewhere.status).toBe(403);
  expect((await get<ReviewLogAnswer>(desk, '/api/review')).entries).toEqual([]);
});

test('a request that is not as documented is refused with the field, and an overlong one is not read', async () => {
  const desk = await startedDesk();
  const wrong = await post(desk, { action: 'decide', by: '', findings: [], decision: 'perhaps' });
  expect([wrong.status, await wrong.json()]).toMatchObject([400, { type: 'bad-request', field: 'by' }]);
  expect((await post(desk, '{"action":')).status).toBe(400);
  const long = await post(desk, JSON.stringify({ action: 'comment', by: 'x', comment: 'y'.repeat(300_000) }));
  expect(long.status).toBe(413);
});

test('what another process writes is told to whoever listens', async () => {
  const file = smallCampaignFile();
  const desk = await startedDesk({ campaignFile: file });
  const stop = new AbortController();
  const answer = await fetch(new URL('/api/changes', desk.origin), { signal: stop.signal });
  expect(answer.headers.get('content-type')).toBe('text/event-stream; charset=utf-8');
  const told: string[] = [];
  const listening = (async () => {
    let text = '';
    for await (const part of answer.body!) {
      text += new TextDecoder().decode(part);
      told.splice(0, told.length, ...[...text.matchAll(/event: revision\ndata: (.*)\n\n/g)].map((match) => match[1]));
      if (told.length >= 2) return;
    }
  })();
  const other = openGeoPackageCampaign(file, { create: false });
  other.review({ findingId: 'west-D1', atUtc: '2026-05-20T09:00:00Z', who: 'I. Moor', what: 'rejected', value: 'sun' });
  const { revision } = { revision: other.revision() };
  other.close();
  await listening;
  stop.abort();
  expect(JSON.parse(told[1])).toEqual({ revision });
  expect(JSON.parse(told[0])).not.toEqual({ revision });
});
