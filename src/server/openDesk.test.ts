import { request } from 'node:http';
import { expect, test } from 'vitest';
import { openGeoPackageCampaign } from '../campaign/openGeoPackageCampaign.ts';
import { resultOf } from '../campaign/smallCampaign.testdata.ts';
import { campaignAnswer } from './api/campaign.ts';
import { findingAnswer, findingsAnswer, sightingsAnswer } from './api/findings.ts';
import { lineAnswer } from './api/line.ts';
import type { OpenedDesk } from './openDesk.ts';
import { openDesk } from './openDesk.ts';
import { PLAIN, smallCampaignFile, startedDesk } from './smallDesk.testdata.ts';

/** A request with whatever headers, which `fetch` would not let us choose. */
function asked(
  desk: OpenedDesk,
  path: string,
  headers: Record<string, string> = {},
  method = 'GET',
): Promise<{ status: number; headers: Record<string, unknown>; body: string }> {
  const url = new URL(path, desk.origin);
  return new Promise((resolve, reject) => {
    const asking = request(url, { method, headers }, (answer) => {
      let body = '';
      answer.setEncoding('utf8');
      answer.on('data', (part) => {
        body += part;
      });
      answer.on('end', () => resolve({ status: answer.statusCode!, headers: answer.headers, body }));
    });
    asking.on('error', reject);
    asking.end();
  });
}

const read = async (desk: OpenedDesk, path: string): Promise<unknown> => JSON.parse((await asked(desk, path)).body);

test('what is answered of a campaign is what the campaign holds, in the shape that is documented', async () => {
  const desk = await startedDesk();
  const about = campaignAnswer.parse(await read(desk, '/api/campaign'));
  expect([about.name, about.line.voltageKv, about.counts.findings, about.counts.sightings, about.mayWrite]).toEqual([
    'Spring 2026',
    275,
    2,
    2,
    false,
  ]);
  const line = lineAnswer.parse(await read(desk, '/api/line'));
  expect(
    line.components.map(({ id, coverage, findingIds }) => [id, coverage.state, coverage.limitHz, findingIds]),
  ).toEqual([
    ['T1-A-string', 'finding', 4.2e8, ['west-D1']],
    ['T2-A-clamp', 'not seen', null, ['west-D2']],
  ]);
  // From T1 to T2 it is the length of (251.3, 118.7).
  expect(line.structures[1].alongM).toBeCloseTo(277.92, 2);
  const { findings } = findingsAnswer.parse(await read(desk, '/api/findings'));
  expect(findings.map(({ id, rateHz, sightings }) => [id, rateHz, sightings])).toEqual([
    ['west-D1', 5.25e9, 1],
    ['west-D2', 10.5e9, 0],
  ]);
  const one = findingAnswer.parse(await read(desk, '/api/findings/west-D1'));
  expect([one.candidates.length, one.evidenceList[0].rangeM, one.sightingList[0].events]).toEqual([3, 32.5, 188]);
  const sightings = sightingsAnswer.parse(await read(desk, '/api/sightings'));
  expect(sightings.findingId).toEqual(['west-D1', null]);
  expect(sightings.suspicions.map((bits) => sightings.suspicionNames.filter((_, i) => (bits >> i) & 1))).toEqual([
    [],
    ['moves in space', 'sun glint'],
  ]);
});

test('the picture of a finding comes as the bytes that were kept', async () => {
  const desk = await startedDesk();
  const answer = await fetch(new URL('/api/findings/west-D1/evidence/0', desk.origin));
  const bytes = new Uint8Array(await answer.arrayBuffer());
  expect([answer.headers.get('content-type'), bytes.length, bytes[1], bytes[2]]).toEqual(['image/jpeg', 3000, 89, 178]);
  expect((await asked(desk, '/api/findings/west-D1/evidence/1')).status).toBe(404);
});

test('what an earlier campaign had at a finding comes with it, with its picture, as soon as the two were compared', async () => {
  const file = smallCampaignFile();
  const desk = await startedDesk({ campaignFile: file });
  const answerOf = async () => findingAnswer.parse(await read(desk, '/api/findings/west-D1'));
  const { etag } = (await asked(desk, '/api/findings/west-D1')).headers;
  expect((await answerOf()).last).toBeNull();

  const store = openGeoPackageCampaign(file, { create: false });
  const { discharges, evidence } = resultOf('west');
  const { rate, positionLlh, nearestRangeM, passes } = discharges[0];
  const { conditions } = store.flights()[0];
  store.saveComparison({
    comparison: {
      earlierCampaign: 'Spring 2025',
      earlierFromUtc: '2025-05-11T07:00:00Z',
      earlierToUtc: '2025-05-11T08:00:00Z',
      earlierResultHash: 'cd'.repeat(32),
      resultHash: store.resultHash(),
      software: 'corposant 0.1.0',
      parameters: {},
      rules: 'as shipped',
      remarks: [],
    },
    changes: [
      {
        earlierId: 'old-D4',
        laterId: 'west-D1',
        change: 'grown',
        because: { key: 'passes many', values: { passes: 2 } },
        rate: null,
        pair: null,
        probability: null,
        adjustedProbability: null,
        componentId: null,
        positionLlh,
        history: [
          {
            id: 'old-D4',
            campaign: 'Spring 2025',
            seenUtc: '2025-05-11T07:30:00Z',
            rate: { ...rate, rateHz: rate.rateHz / 3 },
            priority: 'watch',
            decision: 'open',
            comment: '',
            componentId: null,
            positionLlh,
            nearestRangeM,
            passes,
            conditions,
          },
        ],
      },
    ],
    grades: new Map(),
    pictures: new Map([['west-D1', evidence[0]]]),
  });
  store.close();

  const again = await fetch(new URL('/api/findings/west-D1', desk.origin), {
    headers: { 'if-none-match': String(etag) },
  });
  expect(again.status).toBe(200); // not the answer of before the comparison
  const { last } = await answerOf();
  expect([last?.campaign, last?.id, last?.change]).toEqual(['Spring 2025', 'old-D4', 'grown']);
  expect(last?.rateHz).toBeCloseTo(rate.rateHz / 3, 9);
  const picture = await fetch(new URL(last!.evidenceList[0].image, desk.origin));
  expect(new Uint8Array(await picture.arrayBuffer())).toEqual(new Uint8Array(evidence[0].colourJpeg));
});

test('an answer that has not changed is not sent again', async () => {
  const desk = await startedDesk();
  for (const path of ['/api/campaign', '/api/line', '/api/findings', '/api/sightings', '/api/findings/west-D1']) {
    const first = await asked(desk, path);
    const again = await asked(desk, path, { 'if-none-match': String(first.headers.etag) });
    expect([path, first.status, again.status, again.body]).toEqual([path, 200, 304, '']);
  }
});

test('a page of another site learns nothing: not by its origin, and not by a name that it points at this machine', async () => {
  const desk = await startedDesk();
  const { port } = new URL(desk.origin);
  const status = async (headers: Record<string, string>, path = '/api/campaign') =>
    (await asked(desk, path, headers)).status;
  expect(await status({ host: `rebound.example:${port}` })).toBe(421);
  expect(await status({ host: `rebound.example:${port}` }, '/')).toBe(421);
  expect(await status({ host: `127.0.0.1:${Number(port) + 1}` })).toBe(421);
  expect(await status({ host: `localhost:${port}` })).toBe(200);
  expect(await status({ origin: 'https://elsewhere.example' })).toBe(403);
  expect(await status({ origin: 'null' })).toBe(403);
  expect(await status({ origin: `http://127.0.0.1:${Number(port) + 1}` })).toBe(403);
  expect(await status({ origin: desk.origin })).toBe(200);
  expect(await status({ 'sec-fetch-site': 'cross-site' })).toBe(403);
  // An image or script element of another page sends no origin, but says where it comes from.
  expect(await status({ 'sec-fetch-site': 'cross-site', 'sec-fetch-mode': 'no-cors' })).toBe(403);
  expect(await status({ 'sec-fetch-site': 'cross-site', 'sec-fetch-mode': 'navigate' })).toBe(403);
  expect(await status({ 'sec-fetch-site': 'same-origin' })).toBe(200);
});

test('every answer, also a refusal, carries the content policy and is read as what it says it is', async () => {
  const desk = await startedDesk();
  for (const path of ['/api/campaign', '/api/nothing', '/']) {
    const { headers } = await asked(desk, path);
    expect(headers['content-security-policy']).toContain("default-src 'none'; script-src 'self'; style-src 'self';");
    expect(headers['content-security-policy']).toContain("frame-ancestors 'none'");
    expect(headers['x-content-type-options']).toBe('nosniff');
    expect(headers['cross-origin-resource-policy']).toBe('same-origin');
  }
});

test('a session begins with the token of this start and with no other', async () => {
  const desk = await startedDesk();
  const begin = (key: string) =>
    fetch(new URL('/api/session', desk.origin), {
      method: 'POST',
      headers: { 'content-type': 'application/json' },
      body: JSON.stringify({ key }),
    });
  expect((await begin('0'.repeat(32))).status).toBe(401);
  const begun = await begin(desk.token);
  const cookie = begun.headers.get('set-cookie')!;
  expect(cookie).toMatch(/^corposant-\d+=[\w-]{32}; Path=\/; HttpOnly; SameSite=Strict$/);
  const mayWrite = async (headers: Record<string, string>) =>
    (JSON.parse((await asked(desk, '/api/campaign', headers)).body) as { mayWrite: boolean }).mayWrite;
  expect(await mayWrite({ cookie: cookie.split(';')[0] })).toBe(true);
  expect(await mayWrite({ authorization: `Bearer ${desk.token}` })).toBe(true);
  expect(await mayWrite({ authorization: `Bearer ${desk.token}x` })).toBe(false);
  expect(await mayWrite({})).toBe(false);
});

test('beyond this machine the desk does not start without a token and a certificate, and says what to give', async () => {
  const start = (options: object) =>
    openDesk({ ...PLAIN, campaignFile: smallCampaignFile(), host: '0.0.0.0', ...options });
  await expect(start({})).rejects.toThrow(
    'host: found 0.0.0.0, expected a token where the desk can be reached from other machines. Give --token, or leave --host away.',
  );
  await expect(start({ token: 'x'.repeat(16) })).rejects.toThrow('expected a certificate');
  await expect(start({ token: 'short' })).rejects.toThrow('16 to 200 letters');
});

test('what is not there is answered as a problem (RFC 9457)', async () => {
  const desk = await startedDesk();
  const { status, headers, body } = await asked(desk, '/api/findings/west-D9');
  expect([status, headers['content-type']]).toEqual([404, 'application/problem+json; charset=utf-8']);
  expect(JSON.parse(body)).toMatchObject({
    type: 'not-found',
    status: 404,
    detail: "The campaign has no finding 'west-D9'.",
  });
});
