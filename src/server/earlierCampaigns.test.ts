import { expect, test } from 'vitest';
import type { JobsAnswer } from './api/jobs.ts';
import type { Problem } from './api/problem.ts';
import { earlierCampaigns } from './earlierCampaigns.ts';
import { smallCampaignFile, startedDesk } from './smallDesk.testdata.ts';

test('an earlier campaign goes by its name and the day of its first flight, and one name is one campaign', () => {
  const file = smallCampaignFile();
  const [name] = earlierCampaigns([file]).keys();
  expect(name).toMatch(/, \d{4}-\d\d-\d\d$/);
  expect(() => earlierCampaigns([file, file])).toThrow(/the name of .* too/);
});

test('the API names the campaigns that can be compared with, and compares with no other', async () => {
  const file = smallCampaignFile();
  const { origin, token } = await startedDesk({ earlierCampaignFiles: [file] });
  const { earlierCampaigns: names } = (await (await fetch(`${origin}/api/jobs`)).json()) as JobsAnswer;
  expect(names).toEqual([...earlierCampaigns([file]).keys()]);
  const answer = await fetch(`${origin}/api/jobs`, {
    method: 'POST',
    headers: { authorization: `Bearer ${token}`, 'content-type': 'application/json' },
    body: JSON.stringify({ kind: 'compare', earlier: '../another.gpkg' }),
  });
  expect(answer.status).toBe(404);
  expect(((await answer.json()) as Problem).todo).toContain('--earlier');
});
