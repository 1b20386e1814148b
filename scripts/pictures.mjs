// node scripts/pictures.mjs: the pictures of docs/pictures/ from the demo's output (run `npm run demo` first).
import { existsSync, mkdirSync, mkdtempSync, readdirSync, renameSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { fail, mustRun, needPrograms, root, run } from './prepare.mjs';

const report = path.join(root, 'out', 'demo', 'report', 'report.pdf');
const certificate = path.join(root, 'out', 'demo', 'bench', 'certificate.html');
if (!existsSync(report) || !existsSync(certificate)) fail('No demo output: run `npm run demo` first.');
needPrograms(['pdftotext', 'chromium']);
const pictures = path.join(root, 'docs', 'pictures');
mkdirSync(pictures, { recursive: true });

/** Page of the report by the first words that stand on it. */
const page = (name, number) => {
  const scratch = mkdtempSync(path.join(tmpdir(), 'corposant-pictures-'));
  mustRun('pdftoppm', [
    '-r',
    '100',
    '-f',
    String(number),
    '-l',
    String(number),
    '-png',
    report,
    path.join(scratch, 'page'),
  ]);
  renameSync(path.join(scratch, readdirSync(scratch)[0]), path.join(pictures, `${name}.png`));
  rmSync(scratch, { recursive: true });
};
page('cover', 1);
page('summary', 2);
page('map', 3);
page('finding', 5);
page('finding-weak', 9);

const profile = mkdtempSync(path.join(tmpdir(), 'corposant-chromium-'));
run(
  'chromium',
  [
    ...[
      '--headless',
      '--no-sandbox',
      '--disable-gpu',
      '--no-first-run',
      '--disable-background-networking',
      `--user-data-dir=${profile}`,
    ],
    ...['--window-size=1200,3300', `--screenshot=${path.join(pictures, 'certificate.png')}`, `file://${certificate}`],
  ],
  { stdio: 'ignore' },
);
rmSync(profile, { recursive: true, force: true });
console.log(readdirSync(pictures).join('\n'));
