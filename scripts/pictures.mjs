// node scripts/pictures.mjs [report|desk]: the pictures of docs/pictures/ from the demo's output (run `npm run demo -- --two-years` first).
import { spawn, spawnSync } from 'node:child_process';
import { cpSync, existsSync, mkdirSync, mkdtempSync, readdirSync, renameSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { pathToFileURL } from 'node:url';
import { chromium } from 'playwright-core';
import { fail, mustRun, needPrograms, root } from './prepare.mjs';

const part = process.argv[2] ?? 'both';
if (!['report', 'desk', 'both'].includes(part)) fail(`'${part}' is neither report nor desk.`);
const demo = path.join(root, 'out', 'demo');
const report = path.join(demo, 'report', 'report.pdf');
const secondYear = path.join(demo, 'report-2', 'report.pdf');
const certificate = path.join(demo, 'bench', 'certificate.html');
for (const file of [report, secondYear, certificate])
  if (!existsSync(file)) fail(`No ${file}: run \`npm run demo -- --two-years\` first.`);
needPrograms(['pdftotext', 'chromium']);
const pictures = path.join(root, 'docs', 'pictures');
mkdirSync(pictures, { recursive: true });
const browser = await chromium.launch({
  executablePath: '/usr/bin/chromium',
  args: ['--use-angle=swiftshader', '--enable-unsafe-swiftshader'],
});

/** The first page behind the cover on which such words stand; headings stand alone on their line, but in the contents. */
function pageWith(pdf, words) {
  for (let number = 2; ; number++) {
    const read = spawnSync('pdftotext', ['-layout', '-f', String(number), '-l', String(number), pdf, '-']);
    const text = String(read.stdout);
    if (read.status !== 0) fail(`No page of ${pdf} has ${words}.`);
    if (words.test(text)) return number;
  }
}

function pictureOfPage(name, pdf, number) {
  const scratch = mkdtempSync(path.join(tmpdir(), 'corposant-pictures-'));
  const only = ['-f', String(number), '-l', String(number)];
  mustRun('pdftoppm', ['-r', '100', ...only, '-png', pdf, path.join(scratch, 'page')]);
  renameSync(path.join(scratch, readdirSync(scratch)[0]), path.join(pictures, `${name}.png`));
  rmSync(scratch, { recursive: true });
}

async function pictureOfAddress(name, address, act = async () => undefined) {
  const paper = await browser.newPage({ viewport: { width: 1400, height: 900 }, locale: 'en-GB' });
  await paper.goto(address);
  await act(paper);
  await paper.screenshot({ path: path.join(pictures, `${name}.png`), fullPage: name === 'certificate' });
  await paper.close();
}

async function picturesOfReport() {
  pictureOfPage('cover', report, 1);
  pictureOfPage('summary', report, pageWith(report, /Findings by priority/));
  pictureOfPage('map', report, pageWith(report, /Grid every/));
  pictureOfPage('finding', report, pageWith(report, /Finding 1 of/));
  pictureOfPage('finding-weak', report, pageWith(report, /Finding 5 of/));
  pictureOfPage('changes', secondYear, pageWith(secondYear, /^\s*Changes since the earlier campaign\s*$/m));
  pictureOfPage('finding-history', secondYear, pageWith(secondYear, /^\s*History\s*$/m));
  await pictureOfAddress('certificate', pathToFileURL(certificate).href);
  const folder = mkdtempSync(path.join(tmpdir(), 'corposant-hand-over-'));
  const page = path.join(folder, 'page');
  mustRun(process.execPath, ['bin/corposant.js', 'export', path.join(demo, 'campaign-2.gpkg'), '--evidence', page]);
  await pictureOfAddress('hand-over', pathToFileURL(path.join(page, 'index.html')).href, async (paper) => {
    await paper.waitForFunction(() => document.querySelector('.look img')?.complete);
  });
  rmSync(folder, { recursive: true, force: true });
}

/** The desk, each place on both sheets, from the demo's own campaign (a copy: nothing is decided on it). */
async function picturesOfDesk() {
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
  desk.kill();
  rmSync(copy, { recursive: true, force: true });
}

try {
  if (part !== 'desk') await picturesOfReport();
  if (part !== 'report') await picturesOfDesk();
} finally {
  await browser.close();
}
console.log(readdirSync(pictures).join('\n'));
