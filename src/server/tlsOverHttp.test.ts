import { execFileSync } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { type RequestOptions, request } from 'node:https';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { temporaryFolder } from '../campaign/smallCampaign.testdata.ts';
import { startedDesk } from './smallDesk.testdata.ts';

const TOKEN = 'a-token-for-this-one-test';

/** A certificate of this machine's own, as docs/server.md would have a user make one. */
function certificate(): { certFile: string; keyFile: string } {
  const folder = temporaryFolder();
  const [certFile, keyFile] = [join(folder, 'cert.pem'), join(folder, 'key.pem')];
  execFileSync(
    'openssl',
    [
      ...['req', '-x509', '-newkey', 'ec', '-pkeyopt', 'ec_paramgen_curve:prime256v1', '-nodes', '-days', '2'],
      ...['-subj', '/CN=desk', '-addext', 'subjectAltName=IP:127.0.0.1', '-keyout', keyFile, '-out', certFile],
    ],
    { stdio: 'ignore' },
  );
  return { certFile, keyFile };
}

function asked(url: string, options: RequestOptions, body = ''): Promise<{ status: number; cookie: string }> {
  return new Promise((resolve, reject) => {
    const asking = request(url, options, (answer) => {
      answer.resume();
      answer.on('end', () =>
        resolve({ status: answer.statusCode!, cookie: String(answer.headers['set-cookie'] ?? '') }),
      );
    });
    asking.on('error', reject);
    asking.end(body);
  });
}

test('with a certificate the desk speaks TLS alone, and its cookie never leaves it', async () => {
  const tls = certificate();
  const { origin } = await startedDesk({ token: TOKEN, tls });
  expect(origin).toMatch(/^https:/);
  const ca = readFileSync(tls.certFile);
  expect((await asked(`${origin}/api/campaign`, { ca })).status).toBe(200);
  const session = await asked(
    `${origin}/api/session`,
    { ca, method: 'POST', headers: { 'content-type': 'application/json', origin } },
    JSON.stringify({ key: TOKEN }),
  );
  expect(session.status).toBeLessThan(300);
  expect(session.cookie).toContain('Secure');
  expect(session.cookie).toContain('HttpOnly');
  // A stranger's certificate authority does not vouch for it, and without TLS nobody answers.
  await expect(asked(`${origin}/api/campaign`, {})).rejects.toThrow(/self-signed|certificate/);
  await expect(fetch(`${origin.replace('https', 'http')}/api/campaign`)).rejects.toThrow();
});
