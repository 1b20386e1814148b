import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { expect, onTestFinished, test } from 'vitest';
import { temporaryFolder } from '../campaign/smallCampaign.testdata.ts';
import type { Job } from './api/jobs.ts';
import { JobRunner } from './JobRunner.ts';
import { smallCampaignFile, startedDesk } from './smallDesk.testdata.ts';

const source = (path: string): string => fileURLToPath(new URL(path, import.meta.url));
const COMMAND = [process.execPath, '--import', 'tsx', source('../cli/corposant.ts')];

/** A verb that counts to ten on the disk and stops between two steps, run as the command runs any verb. */
function countingVerb(folder: string): string[] {
  const file = join(folder, 'verb.ts');
  writeFileSync(
    file,
    `import { existsSync, readFileSync, writeFileSync } from 'node:fs';
     import { runVerb } from ${JSON.stringify(source('../cli/runVerb.ts'))};
     import { Interrupted } from ${JSON.stringify(source('../jobs/JobWatch.ts'))};
     const kept = ${JSON.stringify(join(folder, 'kept'))};
     await runVerb({ json: true }, async (watch) => {
       let done = existsSync(kept) ? Number(readFileSync(kept, 'utf8')) : 0;
       const from = done;
       watch.note('begun at ' + from);
       while (done < 10) {
         if (watch.signal?.aborted) throw new Interrupted();
         await new Promise((resolve) => setTimeout(resolve, from === 0 ? 300 : 5));
         writeFileSync(kept, String(++done));
         watch.progress('counting', done, 10, 'steps');
       }
       return { text: '', json: { from } };
     });`,
  );
  return [process.execPath, '--import', 'tsx', file];
}

function runnerIn(folder: string, command: readonly string[]) {
  const told: Job[] = [];
  let wake = (): void => undefined;
  const runner = new JobRunner({
    command,
    folder: join(folder, 'jobs'),
    wordsOf: () => ({ words: [], subject: 'en' }),
    tell: (job) => {
      told.push(job);
      wake();
    },
    nowUtc: () => '2026-05-20T09:00:00.000Z',
  });
  onTestFinished(() => runner.close());
  const until = async (holds: (job: Job) => boolean): Promise<Job> => {
    for (;;) {
      const found = told.find(holds);
      if (found) return found;
      await new Promise<void>((resolve) => {
        wake = resolve;
      });
    }
  };
  return { runner, told, until };
}

test('a job that is cancelled keeps what it did and goes on from there', async () => {
  const folder = temporaryFolder();
  const { runner, told, until } = runnerIn(folder, countingVerb(folder));
  const { id } = runner.start({ kind: 'report' });
  await until(({ progress }) => (progress?.done ?? 0) >= 2);
  runner.cancel(id);
  const cancelled = await until(({ state }) => state === 'cancelled');
  expect([cancelled.canResume, cancelled.notes, cancelled.problem]).toEqual([true, ['begun at 0'], null]);
  const kept = Number(readFileSync(join(folder, 'kept'), 'utf8'));
  expect(kept).toBeLessThan(10);
  told.length = 0;
  runner.resume(id);
  const done = await until(({ state }) => state === 'done');
  expect([done.id, done.result, done.canResume]).toEqual([id, { from: kept }, false]);
  expect(() => runner.resume(id)).toThrow('The job is done.');
});

test('a job that the server left behind is known as interrupted to the next one, and goes on', async () => {
  const folder = temporaryFolder();
  const command = countingVerb(folder);
  const first = runnerIn(folder, command);
  const { id } = first.runner.start({ kind: 'report' });
  await first.until(({ progress }) => (progress?.done ?? 0) >= 2);
  await first.runner.close();
  const next = runnerIn(folder, command);
  expect(next.runner.list().map((job) => [job.id, job.state, job.canResume])).toEqual([[id, 'interrupted', true]]);
  next.runner.resume(id);
  const done = await next.until(({ state }) => state === 'done');
  expect((done.result as { from: number }).from).toBeGreaterThanOrEqual(2);
});

test('one job runs at a time; the others wait in the order in which they were asked for', async () => {
  const folder = temporaryFolder();
  const { runner, until, told } = runnerIn(folder, countingVerb(folder));
  writeFileSync(join(folder, 'kept'), '9');
  const a = runner.start({ kind: 'report' });
  const b = runner.start({ kind: 'report' });
  expect([runner.get(a.id).state, runner.get(b.id).state]).toEqual(['running', 'waiting']);
  await until((job) => job.id === b.id && job.state === 'done');
  const order = told
    .filter(({ state }) => state === 'running' || state === 'done')
    .map(({ id, state }) => `${id} ${state}`);
  expect(order.indexOf(`${a.id} done`)).toBeLessThan(order.indexOf(`${b.id} running`));
});

test('the command does over HTTP what it does in a terminal, and a fault in the input keeps its fields', async () => {
  const file = smallCampaignFile();
  const desk = await startedDesk({ campaignFile: file, command: COMMAND });
  const post = (path: string, body?: unknown, method = 'POST') =>
    fetch(new URL(path, desk.origin), {
      method,
      headers: { authorization: `Bearer ${desk.token}`, ...(body ? { 'content-type': 'application/json' } : {}) },
      ...(body ? { body: JSON.stringify(body) } : {}),
    });
  expect((await fetch(new URL('/api/jobs', desk.origin), { method: 'POST' })).status).toBe(401);
  // No rig was given, and no recording of that name.
  expect((await post('/api/jobs', { kind: 'inspect', flight: '../west' })).status).toBe(404);
  const started = (await (await post('/api/jobs', { kind: 'report', language: 'de' })).json()) as Job;
  expect(started.command).toBe(`corposant report ${file} --out ${file.replace('.gpkg', '.report-de')} --language de`);
  const stream = await fetch(new URL(`/api/jobs/${started.id}/events`, desk.origin));
  const events = [...(await stream.text()).matchAll(/event: job\ndata: (.*)\n/g)].map(
    (match) => JSON.parse(match[1]) as Job,
  );
  const last = events[events.length - 1];
  // The pictures of this small campaign are no pictures: the report tells so, whoever asked for it.
  expect(last.state).toBe('failed');
  expect([last.problem?.title, last.canResume]).toEqual([expect.stringMatching(/\w/), true]);
  const forgotten = await post(`/api/jobs/${started.id}`, undefined, 'DELETE');
  expect(forgotten.status).toBe(200);
  expect((await post(`/api/jobs/${started.id}`, undefined, 'GET')).status).toBe(404);
});
