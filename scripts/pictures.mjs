// node scripts/pictures.mjs: the pictures of docs/pictures/ from the demo's output (run `npm run demo` first).
import { spawn } from 'node:child_process';
import { cpSync, existsSync, mkdirSync, mkdtempSync, readdirSync, renameSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { chromium } from 'playwright-core';
import { fail, mustRun, needPrograms, root } from './prepare.mjs';

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

// The desk, each place on both sheets, from the demo's own campaign (a copy: nothing is decided on it).
const demo = path.join(root, 'out', 'demo');
const copy = mkdtempSync(path.join(tmpdir(), 'corposant-desk-'));
cpSync(path.join(demo, 'campaign.gpkg'), path.join(copy, 'campaign.gpkg'));
cpSync(path.join(demo, 'campaign.events'), path.join(copy, 'campaign.events'), { recursive: true });
const desk = spawn(process.execPath, [
  ...[path.join(root, 'bin', 'corposant.js'), 'desk', path.join(copy, 'campaign.gpkg'), '--port', '0'],
  ...['--flight', path.join(demo, 'world', 'flight'), '--bench', path.join(demo, 'world', 'bench')],
  ...['--rig', path.join(demo, 'world', 'rig.json'), '--line', path.join(demo, 'world', 'line.json')],
  ...['--registration', path.join(demo, 'bench', 'registration.json')],
]);
const address = await new Promise((resolve) => {
  desk.stdout.on('data', (text) => {
    const found = /https?:\/\/\S+/.exec(String(text));
    if (found) resolve(found[0]);
  });
});
const browser = await chromium.launch({
  executablePath: '/usr/bin/chromium',
  args: ['--use-angle=swiftshader', '--enable-unsafe-swiftshader'],
});
const paper = await browser.newPage({ viewport: { width: 1200, height: 800 } });
await paper.goto(`file://${certificate}`);
await paper.screenshot({ path: path.join(pictures, 'certificate.png'), fullPage: true });
await paper.close();

for (const theme of ['day', 'night']) {
  const context = await browser.newContext({ viewport: { width: 1280, height: 720 }, locale: 'en-GB' });
  await context.addInitScript((sheet) => localStorage.setItem('corposant.theme', sheet), theme);
  const view = await context.newPage();
  await view.goto(address);
  const places = await view
    .getByRole('navigation')
    .getByRole('link')
    .evaluateAll((links) => links.map((link) => link.hash));
  const shown = [
    ...places.map((hash) => [hash.slice(2), hash]),
    ['beside', '#/evidence?view=beside'],
    ['space', '#/evidence?view=space'],
  ];
  for (const [name, hash] of shown) {
    await view.evaluate((to) => {
      location.hash = to;
    }, hash);
    await view.waitForFunction(() => document.querySelector('main') && !document.querySelector('.notice.loading'));
    // Pictures of the flight come after the place is drawn.
    await view.waitForTimeout(4000);
    await view.screenshot({ path: path.join(pictures, `desk-${name}-${theme}.png`) });
  }
  await context.close();
}
await browser.close();
desk.kill();
rmSync(copy, { recursive: true, force: true });
console.log(readdirSync(pictures).join('\n'));
